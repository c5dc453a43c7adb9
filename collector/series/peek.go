package series

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"time"

	"github.com/prometheus/prometheus/model/labels"
	"github.com/prometheus/prometheus/storage"
	"github.com/prometheus/prometheus/tsdb"
	"github.com/prometheus/prometheus/tsdb/chunkenc"

	"brinebell/detect"
)

// peeks is how often a log that is being written while it is read is read anew.
const peeks = 3

// Peek gives all readings of a home of from <= time < to in the embedded store at
// dir, in order of time, also while another process writes there. It needs to
// write beside dir, for links that it takes away again, and it reads the whole
// log: it is for a person who asks now and then.
func Peek(ctx context.Context, dir, home string, from, to time.Time) (readings []detect.Reading, err error) {
	for range peeks {
		if readings, err = peek(ctx, dir, home, ceilMilli(from), ceilMilli(to)); err == nil || ctx.Err() != nil {
			break
		}
	}
	return readings, err
}

func peek(ctx context.Context, dir, home string, from, end int64) (out []detect.Reading, err error) {
	if from >= end {
		return nil, nil
	}
	db, err := tsdb.OpenDBReadOnly(dir, filepath.Dir(dir), nil)
	if err != nil {
		return nil, fmt.Errorf("series store %s: %w", dir, err)
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	q, err := db.Querier(from, end-1)
	if err != nil {
		return nil, fmt.Errorf("series store %s: %w", dir, err)
	}
	defer func() { err = errors.Join(err, q.Close()) }()
	set := q.Select(ctx, false, nil, labels.MustNewMatcher(labels.MatchEqual, homeLabel, home))
	if out, err = gather(set, home); err != nil {
		return nil, fmt.Errorf("series store %s: %w", dir, err)
	}
	SortReadings(out)
	return out, nil
}

// gather takes the readings out of a set of series.
func gather(set storage.SeriesSet, home string) (out []detect.Reading, err error) {
	var it chunkenc.Iterator
	for set.Next() {
		signal, err := detect.ParseSignal(set.At().Labels().Get(nameLabel))
		if err != nil {
			continue
		}
		it = set.At().Iterator(it)
		for it.Next() == chunkenc.ValFloat {
			at, v := it.At()
			out = append(out, detect.Reading{Home: home, Signal: signal, Time: time.UnixMilli(at).UTC(), Value: v})
		}
		if err := it.Err(); err != nil {
			return nil, err
		}
	}
	return out, set.Err()
}
