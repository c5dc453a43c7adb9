package score

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"brinebell/detect"
)

// header is that of a truth file.
const header = "home,fault,start,end,severity"

// ErrNotTruth means that a file does not begin as a truth file does.
var ErrNotTruth = errors.New("not a truth file: the first line must be " + header)

// ReadTruth reads a truth file: CSV with the header home,fault,start,end,severity,
// times as RFC 3339, severity from 0 to 1. A mistake is reported as
// name:line: why; name is only for that.
func ReadTruth(name string, r io.Reader) ([]Episode, error) {
	c := csv.NewReader(r)
	c.FieldsPerRecord = strings.Count(header, ",") + 1
	first, err := c.Read()
	if err != nil || strings.TrimPrefix(strings.Join(first, ","), "\ufeff") != header {
		return nil, fmt.Errorf("%s: %w", name, ErrNotTruth)
	}
	var all []Episode
	for {
		row, err := c.Read()
		if errors.Is(err, io.EOF) {
			return all, nil
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		e, err := episodeOf(row)
		if err != nil {
			line, _ := c.FieldPos(0)
			return nil, fmt.Errorf("%s:%d: %w", name, line, err)
		}
		all = append(all, e)
	}
}

func episodeOf(row []string) (Episode, error) {
	e := Episode{Home: row[0], Fault: detect.Cause(row[1])}
	if !slices.Contains(detect.Causes(), e.Fault) {
		return e, fmt.Errorf("unknown fault %q", row[1])
	}
	var err error
	if e.Start, err = time.Parse(time.RFC3339, row[2]); err != nil {
		return e, fmt.Errorf("start %q is not a time, as in 2025-03-01T06:00:00Z", row[2])
	}
	if e.End, err = time.Parse(time.RFC3339, row[3]); err != nil {
		return e, fmt.Errorf("end %q is not a time, as in 2025-03-01T06:00:00Z", row[3])
	}
	if !e.Start.Before(e.End) {
		return e, fmt.Errorf("ends at %s, before it starts", row[3])
	}
	if e.Severity, err = strconv.ParseFloat(row[4], 64); err != nil || !(e.Severity >= 0 && e.Severity <= 1) {
		return e, fmt.Errorf("severity %q is not between 0 and 1", row[4])
	}
	return e, nil
}
