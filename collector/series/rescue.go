package series

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"

	"github.com/prometheus/prometheus/model/labels"
	"github.com/prometheus/prometheus/tsdb/chunks"
	"github.com/prometheus/prometheus/tsdb/record"
	"github.com/prometheus/prometheus/tsdb/wlog"
)

const (
	// logPage is the length of a page of the library's logs: after damage,
	// reading goes on at the next.
	logPage = 32 << 10
	// rescueBatch is how many readings are stored at once.
	rescueBatch = 5000
)

// rescuer stores again what can be read of damaged logs. Readings that are there
// already are no others.
type rescuer struct {
	store   *TSDB
	series  map[chunks.HeadSeriesRef]labels.Labels
	batch   []record.RefSample
	decoder record.Decoder
	stored  int
	err     error
}

// rescue goes through a copy of the logs: first for the names of series, which
// are in the checkpoint and throughout, then for readings.
func rescue(ctx context.Context, s *TSDB, logs string) (readings int, err error) {
	r := &rescuer{store: s, series: map[chunks.HeadSeriesRef]labels.Labels{}, decoder: record.NewDecoder(nil, nil)}
	wal := filepath.Join(logs, "wal")
	if checkpoint, _, err := wlog.LastCheckpoint(wal); err == nil {
		r.each(checkpoint, r.names)
	}
	r.each(wal, r.names)
	for _, log := range []string{wal, filepath.Join(logs, "wbl")} {
		r.each(log, func(rec []byte) { r.samples(ctx, rec) })
		r.flush(ctx)
	}
	return r.stored, r.err
}

// each hands every record of a log that can be read to do.
func (r *rescuer) each(dir string, do func([]byte)) {
	segments, err := logSegments(dir)
	r.err = errors.Join(r.err, err)
	for _, segment := range segments {
		path := filepath.Join(dir, segment)
		info, err := os.Stat(path)
		if err != nil {
			r.err = errors.Join(r.err, err)
			continue
		}
		for offset := int64(0); offset < info.Size(); {
			offset += readable(path, offset, do)
		}
	}
}

// readable hands the records from an offset, which is a page's begin, to do, and
// says how far it is to the page after the first damage, or to the end.
func readable(path string, offset int64, do func([]byte)) (length int64) {
	s, err := wlog.OpenReadSegment(path)
	if err != nil {
		return 1 << 62
	}
	defer s.Close()
	in, err := wlog.NewSegmentBufReaderWithOffset(int(offset), s)
	if err != nil {
		return 1 << 62
	}
	r := wlog.NewReader(in)
	for r.Next() {
		do(r.Record())
	}
	if err := r.Err(); err == nil || errors.Is(err, io.EOF) {
		return 1 << 62
	}
	return (r.Offset()/logPage + 1) * logPage
}

func (r *rescuer) names(rec []byte) {
	if r.decoder.Type(rec) != record.Series {
		return
	}
	series, err := r.decoder.Series(rec, nil)
	if err != nil {
		return // part of the damage
	}
	for _, s := range series {
		r.series[s.Ref] = s.Labels.Copy()
	}
}

func (r *rescuer) samples(ctx context.Context, rec []byte) {
	if t := r.decoder.Type(rec); t != record.Samples && t != record.SamplesV2 {
		return
	}
	samples, err := r.decoder.Samples(rec, nil)
	if err != nil {
		return // part of the damage
	}
	if r.batch = append(r.batch, samples...); len(r.batch) >= rescueBatch {
		r.flush(ctx)
	}
}

// flush stores the batch.
func (r *rescuer) flush(ctx context.Context) {
	app := r.store.db.Appender(ctx)
	for _, x := range r.batch {
		name, known := r.series[x.Ref]
		if !known {
			continue // its name is in what cannot be read
		}
		if _, err := app.Append(0, name, x.T, x.V); err == nil {
			r.stored++
		}
	}
	r.batch = r.batch[:0]
	r.err = errors.Join(r.err, app.Commit())
}
