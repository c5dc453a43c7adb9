package collector

import (
	"archive/zip"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"slices"
	"time"

	"brinebell/collector/recording"
	"brinebell/collector/series"
	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/regeneration"
)

// exportedRegeneration is a regeneration as plain data.
type exportedRegeneration struct {
	Start  time.Time           `json:"start"`
	End    time.Time           `json:"end"`
	Ending regeneration.Ending `json:"ending"`
	Entry  *books.Entry        `json:"entry"` // null when it was not booked
}

// exportNote is the file that says what the others are.
const exportNote = `All data of the home %s, written %s.

profile.yaml         the home as set up
readings.csv         every reading: time in Unix seconds, home, signal, value in the signal's unit
alerts.json          every alert in its last state
regenerations.json   every regeneration that was recognised, with what the books say of it
books.json           the books as they stand
cases.json           troubles from the first alert to the end, with who did what, and what was reported
`

// Export writes a zip of all data of a home: its readings as a recording, the
// rest as JSON, extra parts by file name among it. Of readings as many as are
// stored when their turn comes. The books need a collector that runs: at its
// start they are waited for.
func (c *Collector) Export(ctx context.Context, home string, out io.Writer, extra map[string]any) error {
	profile, err := c.Profile(ctx, home)
	if err != nil {
		return err
	}
	select { // an export without the books would not be all data
	case <-c.judge.CaughtUp():
	case <-ctx.Done():
		return context.Cause(ctx)
	}
	z := &exporter{zip: zip.NewWriter(out), now: c.opts.Clock().UTC()}
	z.text("README.txt", fmt.Sprintf(exportNote, home, z.now.Format(time.RFC3339)))
	z.text("profile.yaml", profile)
	alerts, err := c.Alerts(ctx, home)
	if err != nil {
		return err
	}
	plain := make([]detect.Alert, len(alerts))
	for i, a := range alerts {
		plain[i] = a.Alert
	}
	z.json("alerts.json", plain)
	records, err := c.Regenerations(ctx, home, time.Time{}, z.now.AddDate(1, 0, 0))
	if err != nil {
		return err
	}
	regenerations := make([]exportedRegeneration, len(records))
	for i, r := range records {
		regenerations[i] = exportedRegeneration{r.Record.Start, r.Record.End, r.Record.Ending, r.Entry}
	}
	z.json("regenerations.json", regenerations)
	if b, ok := c.Books(home); ok {
		z.json("books.json", b)
	}
	cases, err := c.book.Export(ctx, home)
	if err != nil {
		return err
	}
	z.json("cases.json", cases)
	for _, name := range slices.Sorted(maps.Keys(extra)) {
		z.json(name, extra[name])
	}
	z.readings(ctx, c.store, home)
	return z.close()
}

// exporter writes the files of a zip until the first error.
type exporter struct {
	zip *zip.Writer
	now time.Time
	err error
}

func (z *exporter) file(name string) io.Writer {
	if z.err != nil {
		return io.Discard
	}
	w, err := z.zip.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: z.now})
	if err != nil {
		z.err = err
		return io.Discard
	}
	return w
}

func (z *exporter) keep(err error) {
	if z.err == nil {
		z.err = err
	}
}

func (z *exporter) text(name, text string) {
	_, err := io.WriteString(z.file(name), text)
	z.keep(err)
}

func (z *exporter) json(name string, v any) {
	e := json.NewEncoder(z.file(name))
	e.SetIndent("", "  ")
	z.keep(e.Encode(v))
}

func (z *exporter) readings(ctx context.Context, store series.Store, home string) {
	w, err := recording.NewWriter(z.file("readings.csv"))
	if err != nil {
		z.keep(err)
		return
	}
	z.keep(series.EachHome(ctx, store, home, time.Time{}, func(page []detect.Reading) error {
		for _, r := range page {
			if err := w.Write(r); err != nil {
				return err
			}
		}
		return ctx.Err()
	}))
	z.keep(w.Close())
}

func (z *exporter) close() error {
	z.keep(z.zip.Close())
	return z.err
}
