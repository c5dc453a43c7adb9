package main

import (
	"context"
	"errors"
	"io"
	"math"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"

	"brinebell/collector/recording"
	"brinebell/collector/replay"
	"brinebell/detect"
	"brinebell/detect/score"
)

// scoreRecordings replays recordings and, beside it, looks at what they cover.
func scoreRecordings(ctx context.Context, s streams, f *scoreFlags, files []string) (*score.Input, error) {
	homes, err := readHomes(f.homes, noteTo(s.err))
	if err != nil {
		return nil, err
	}
	in := &score.Input{}
	if in.Episodes, err = readTruth(f.truth); err != nil {
		return nil, err
	}
	paths, done, err := keepInput(ctx, s, files)
	defer done()
	if err != nil {
		return nil, asInputError(err)
	}
	line := newMeter(s.err)
	var result *replay.Result
	var cover map[string]*coverage
	g, ctx := errgroup.WithContext(ctx)
	g.Go(func() (err error) {
		result, err = replay.Run(ctx, replay.Options{Homes: homes, Files: paths, Strict: f.strict, Progress: showReplay(line)})
		return err
	})
	g.Go(func() (err error) {
		cover, err = coverageOf(ctx, paths)
		return err
	})
	err = g.Wait()
	line.clear()
	if err != nil {
		return nil, asInputError(err)
	}
	complain(s.err, result, files)
	in.Alerts = result.Alerts
	for _, h := range homes {
		if c := cover[h.ID]; c != nil {
			in.Exposures = append(in.Exposures, c.exposure(h.ID))
			in.Sights = append(in.Sights, score.Sight{Profile: h, Signals: c.list()})
		}
	}
	return in, nil
}

// coverage is what a recording has of one home: its signals, and readings by
// day.
type coverage struct {
	signals [detect.NumSignals]bool
	days    map[int64]*covered
}

type covered struct {
	n           int
	first, last int64 // Unix ms
}

const dayMilliseconds = int64(24 * time.Hour / time.Millisecond)

func coverageOf(ctx context.Context, files []string) (map[string]*coverage, error) {
	all := map[string]*coverage{}
	for _, path := range files {
		if err := coverFile(ctx, path, all); err != nil {
			return nil, err
		}
	}
	return all, nil
}

func coverFile(ctx context.Context, path string, all map[string]*coverage) error {
	r, err := recording.Open(path, recording.Options{})
	if err != nil {
		return err
	}
	defer r.Close()
	const every = 1 << 16
	for n := 1; ; n++ {
		x, err := r.Next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if n%every == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		if x.Check() != nil {
			continue
		}
		c := all[x.Home]
		if c == nil {
			c = &coverage{days: map[int64]*covered{}}
			all[x.Home] = c
		}
		c.add(x)
	}
}

func (c *coverage) add(x detect.Reading) {
	c.signals[x.Signal] = true
	at := x.Time.UnixMilli()
	d := c.days[at/dayMilliseconds]
	if d == nil {
		d = &covered{first: math.MaxInt64, last: math.MinInt64}
		c.days[at/dayMilliseconds] = d
	}
	d.n++
	d.first, d.last = min(d.first, at), max(d.last, at)
}

func (c *coverage) list() []detect.Signal {
	var all []detect.Signal
	for s, there := range c.signals {
		if there {
			all = append(all, detect.Signal(s))
		}
	}
	return all
}

// exposure is from the first to the last reading, leaving out days that hold
// less than a hundredth of the readings of an ordinary one: a sensor whose clock
// once said 2099 has not watched the home until then.
func (c *coverage) exposure(home string) score.Exposure {
	counts := make([]int, 0, len(c.days))
	for _, d := range c.days {
		counts = append(counts, d.n)
	}
	slices.Sort(counts)
	least := counts[len(counts)/2] / 100
	first, last := int64(math.MaxInt64), int64(math.MinInt64)
	for _, d := range c.days {
		if d.n > least {
			first, last = min(first, d.first), max(last, d.last)
		}
	}
	return score.Exposure{Home: home, From: time.UnixMilli(first).UTC(), To: time.UnixMilli(last).UTC()}
}
