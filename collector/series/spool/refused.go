package spool

import (
	"encoding/csv"
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"brinebell/collector/series"
	"brinebell/detect"
)

// RefusedFile is where readings are that the store will not take.
const RefusedFile = "refused.csv"

// setRefusedAside adds readings to the file of refused ones, with the store's
// reasons, and flushes it.
func setRefusedAside(dir string, readings []detect.Reading, refused []series.Rejected) error {
	f, err := os.OpenFile(filepath.Join(dir, RefusedFile), os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o640)
	if err != nil {
		return err
	}
	w := csv.NewWriter(f)
	if info, err := f.Stat(); err == nil && info.Size() == 0 {
		_ = w.Write([]string{"time", "home", "signal", "value", "reason"}) // the writer keeps its error
	}
	for _, r := range refused {
		x := readings[r.Index]
		_ = w.Write([]string{x.Time.UTC().Format(time.RFC3339Nano), x.Home, x.Signal.String(), strconv.FormatFloat(x.Value, 'g', -1, 64), r.Err.Error()})
	}
	w.Flush()
	return errors.Join(w.Error(), f.Sync(), f.Close())
}
