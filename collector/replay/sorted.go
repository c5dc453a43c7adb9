package replay

import (
	"context"
	"errors"
	"slices"
	"time"

	"brinebell/detect"
)

// keptReading is a reading without its home, as small as it gets.
type keptReading struct {
	at     int64 // Unix ms
	value  float64
	signal detect.Signal
}

// runSorted keeps every reading in memory, sorts each home's and then replays
// home by home. Readings of one instant are in the order of their signals, so
// the order of the file leaves no trace.
func runSorted(ctx context.Context, o Options) (*Result, error) {
	source, err := openMerge(o)
	if err != nil {
		return nil, err
	}
	defer source.close()
	deal := newDealer(o, false)
	kept, err := keep(ctx, o, source, deal)
	if err != nil {
		deal.finish()
		return nil, err
	}
	for _, h := range o.Homes {
		readings := kept[h.ID]
		slices.SortStableFunc(readings, func(a, b keptReading) int {
			if a.at != b.at {
				return int(min(max(a.at-b.at, -1), 1))
			}
			return int(a.signal) - int(b.signal)
		})
		for _, k := range readings {
			deal.reading(detect.Reading{Home: h.ID, Signal: k.signal, Time: time.UnixMilli(k.at).UTC(), Value: k.value})
		}
		delete(kept, h.ID)
	}
	return finish(o, source, deal, ctx.Err())
}

func keep(ctx context.Context, o Options, source *merge, deal *dealer) (map[string][]keptReading, error) {
	kept := map[string][]keptReading{}
	for n := int64(1); ; n++ {
		r, err := source.next()
		if errors.Is(err, errEnd) {
			return kept, nil
		}
		if err != nil {
			return nil, err
		}
		if _, known := deal.of[r.Home]; !known {
			deal.reading(r) // counts it
			continue
		}
		kept[r.Home] = append(kept[r.Home], keptReading{r.Time.UnixMilli(), r.Value, r.Signal})
		if n%(1<<16) == 0 {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			if o.Progress != nil {
				o.Progress(Progress{Readings: n, Bytes: source.bytes(), All: source.size(), At: r.Time, Sorting: true})
			}
		}
	}
}
