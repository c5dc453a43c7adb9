package influx

import (
	"context"
	"fmt"
	"time"

	"brinebell/collector/series"
	"brinebell/detect"
)

// Admit says why a reading would not be stored, as far as that can be told
// without asking the server, or nil.
func (s *Store) Admit(r detect.Reading) error {
	if err := series.Finite(r.Value); err != nil {
		return err
	}
	if r.Signal >= detect.NumSignals {
		return fmt.Errorf("%w: there is no %v", series.ErrRefused, r.Signal)
	}
	if s.opts.Retention > 0 && r.Time.Before(s.opts.Clock().Add(-s.opts.Retention)) {
		return series.ErrTooOld
	}
	return carries(r.Home)
}

// line is a reading of a batch on its way out.
type line struct {
	index int // in the batch
	text  string
}

// Append stores a batch; see series.Store.
func (s *Store) Append(ctx context.Context, readings []detect.Reading) (rejected []series.Rejected, err error) {
	var lines []line
	var buf []byte
	for i, r := range readings {
		if err := s.Admit(r); err != nil {
			rejected = append(rejected, series.Rejected{Index: i, Err: err})
			continue
		}
		buf = appendLine(buf[:0], r)
		lines = append(lines, line{i, string(buf)})
	}
	for len(lines) > 0 {
		n := min(len(lines), s.opts.Batch)
		refused, err := s.write(ctx, lines[:n])
		if err != nil {
			return nil, err
		}
		rejected = append(rejected, refused...)
		lines = lines[n:]
	}
	sortRejected(rejected)
	s.note(readings, rejected)
	return rejected, nil
}

// write sends lines in one request. If the server refuses them for their own
// sake, each half is sent by itself, down to the lines that are to blame; those
// sent twice do no harm.
func (s *Store) write(ctx context.Context, lines []line) ([]series.Rejected, error) {
	texts := make([]string, len(lines))
	for i, l := range lines {
		texts[i] = l.text
	}
	err := s.writes.WriteRecord(ctx, texts...)
	if err == nil {
		return nil, nil
	}
	why := whatIsWrong(err)
	switch {
	case why.kind == ofServer:
		return nil, fmt.Errorf("writing to InfluxDB: %w: %s", series.ErrUnavailable, why.text)
	case len(lines) == 1:
		return []series.Rejected{{Index: lines[0].index, Err: fmt.Errorf("%w: %s", series.ErrRefused, why.text)}}, nil
	}
	first, err := s.write(ctx, lines[:len(lines)/2])
	if err != nil {
		return nil, err
	}
	second, err := s.write(ctx, lines[len(lines)/2:])
	return append(first, second...), err
}

// note keeps what is known of newest and oldest points up to date.
func (s *Store) note(readings []detect.Reading, rejected []series.Rejected) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i, r := range readings {
		if len(rejected) > 0 && rejected[0].Index == i {
			rejected = rejected[1:]
			continue
		}
		at := time.UnixMilli(r.Time.UnixMilli()).UTC()
		if !s.oldest.IsZero() && at.Before(s.oldest) {
			s.oldest = at
		}
		if known, ok := s.newest[key{r.Home, r.Signal}]; ok && !at.Before(known.Time) {
			s.newest[key{r.Home, r.Signal}] = series.Point{Time: at, Value: r.Value}
		}
	}
}
