package simulator

import (
	"context"
	"errors"
	"iter"
	"runtime"
	"time"

	"golang.org/x/sync/errgroup"

	"brinebell/detect"
	"brinebell/simulator/sensor"
)

// Arrival is a reading with the true time at which it arrives. For a sound
// device that is also when it was measured.
type Arrival struct {
	detect.Reading
	Arrived time.Time
}

// Town is homes that live side by side.
type Town struct {
	homes   []*Home
	workers int
	block   int64 // ms
}

// samplesPerBlock bounds what a block of time holds over all homes: 32 MB of
// samples, twice, as one block is made while another is handed out.
const samplesPerBlock = 1 << 20

// NewTown gathers homes, which must be its own from now on. workers 0 means as
// many as there are processors.
func NewTown(homes []*Home, workers int) *Town {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	perDay := 0.0
	for _, h := range homes {
		perDay += h.samplesPerDay()
	}
	block := int64(samplesPerBlock / max(1, perDay) * 86_400_000)
	return &Town{homes: homes, workers: workers, block: max(60_000, min(block, 86_400_000))}
}

// samplesPerDay is how many readings the home's devices give.
func (h *Home) samplesPerDay() float64 {
	n := 0.0
	for _, d := range h.devices {
		for _, c := range d.Channels {
			n += 24 * float64(time.Hour) / float64(c.Every)
		}
	}
	return n
}

// Homes are the homes' profiles.
func (t *Town) Homes() []detect.Home {
	all := make([]detect.Home, len(t.homes))
	for i, h := range t.homes {
		all[i] = h.Profile()
	}
	return all
}

// Truth is what is wrong at all homes, in order.
func (t *Town) Truth() []Truth {
	var all []Truth
	for _, h := range t.homes {
		all = append(all, h.Truth()...)
	}
	SortTruth(all)
	return all
}

// Run simulates every home to its end and hands out what arrives, in order of
// arrival, then of homes as given, then of their devices. It can run once. An error
// of give ends it and is returned; so does the context.
func (t *Town) Run(ctx context.Context, give func(Arrival) error) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	blocks := make(chan [][]sensor.Sample)
	free := make(chan [][]sensor.Sample, 2)
	for range 2 {
		free <- make([][]sensor.Sample, len(t.homes))
	}
	made := make(chan error, 1)
	go func() { made <- t.makeBlocks(ctx, free, blocks) }()
	var err error
	m := newMerge(t.homes)
	for b := range blocks {
		if err = m.give(b, give); err != nil {
			cancel()
			break
		}
		free <- b
	}
	stopped := <-made
	if err == nil {
		err = stopped
	}
	return err
}

// makeBlocks advances the homes block by block; blocks is closed at the end.
func (t *Town) makeBlocks(ctx context.Context, free <-chan [][]sensor.Sample, blocks chan<- [][]sensor.Sample) error {
	defer close(blocks)
	first, last := t.span()
	for until := first + t.block; ; until += t.block {
		var b [][]sensor.Sample
		select {
		case b = <-free:
		case <-ctx.Done():
			return ctx.Err()
		}
		if err := t.makeBlock(ctx, until, b); err != nil {
			return err
		}
		select {
		case blocks <- b:
		case <-ctx.Done():
			return ctx.Err()
		}
		if until >= last {
			return nil
		}
	}
}

// makeBlock advances every home to an instant, several at once.
func (t *Town) makeBlock(ctx context.Context, until int64, b [][]sensor.Sample) error {
	var g errgroup.Group
	g.SetLimit(t.workers)
	for i, h := range t.homes {
		g.Go(func() error {
			b[i] = h.Advance(until, b[i][:0])
			return ctx.Err()
		})
	}
	return g.Wait()
}

// span is from the first home's beginning to the last home's end.
func (t *Town) span() (first, last int64) {
	for i, h := range t.homes {
		if i == 0 || h.now < first {
			first = h.now
		}
		last = max(last, h.end)
	}
	return first, last
}

// errEnough ends a Run whose reader has seen enough.
var errEnough = errors.New("the reader has seen enough")

// Arrivals is Run as an iterator; an error comes last, with an empty reading.
func (t *Town) Arrivals(ctx context.Context) iter.Seq2[Arrival, error] {
	return func(yield func(Arrival, error) bool) {
		err := t.Run(ctx, func(a Arrival) error {
			if !yield(a, nil) {
				return errEnough
			}
			return nil
		})
		if err != nil && !errors.Is(err, errEnough) {
			yield(Arrival{}, err)
		}
	}
}
