package replay

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"time"

	"brinebell/collector/recording"
	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/engine"
)

// Options say what to replay. Homes and Files are required.
type Options struct {
	Homes []detect.Home
	Files []string // recordings; "-" is the standard input
	// Strict ends the replay at the first bad line, and at the first reading of
	// a home that is not among Homes unless Others is set.
	Strict bool
	// Others says that readings of other homes are expected and of no interest.
	Others bool
	// Engines is how many engines share the homes; the machine's cores when 0.
	Engines int
	// Progress is told now and then how far the replay is. Optional.
	Progress func(Progress)
}

// strictHomes are the homes that may occur, nil when any may.
func (o *Options) strictHomes() map[string]bool {
	if !o.Strict || o.Others {
		return nil
	}
	known := map[string]bool{}
	for _, h := range o.Homes {
		known[h.ID] = true
	}
	return known
}

// Progress is how far a replay is.
type Progress struct {
	Readings   int64
	Bytes, All int64     // of the files read, before decompression; All is 0 when unknown
	At         time.Time // time of measurement
	Sorting    bool      // the files are not in order of time
}

// Result is what a replay found.
type Result struct {
	Alerts        []detect.Alert // in the order they were raised
	Regenerations []engine.HomeRecord
	Books         map[string]books.Books // of every home, at its last reading
	Readings      int64
	Bad           []recording.BadLines // one a file, in the order of Options.Files
	Unknown       map[string]int64     // readings of homes that have no profile
	Refused       map[engine.Outcome]int64
	Sorted        bool // the files were not in order of time
}

// errDisorder ends a pass over files that turn out not to be in order.
var errDisorder = errors.New("readings are not in order of time")

// Run replays. It returns an error when a file cannot be read, when the context
// ends, or at the first bad line when strict.
func Run(ctx context.Context, o Options) (*Result, error) {
	if o.Engines <= 0 {
		o.Engines = runtime.GOMAXPROCS(0)
	}
	if slices.Contains(o.Files, recording.Stdin) { // it cannot be begun anew
		return runSorted(ctx, o)
	}
	result, err := runStreaming(ctx, o)
	if errors.Is(err, errDisorder) {
		return runSorted(ctx, o)
	}
	return result, err
}

func runStreaming(ctx context.Context, o Options) (*Result, error) {
	source, err := openMerge(o)
	if err != nil {
		return nil, err
	}
	defer source.close()
	deal := newDealer(o, true)
	err = feed(ctx, o, source, deal)
	return finish(o, source, deal, err)
}

// feed passes every reading to deal, looking up now and then.
func feed(ctx context.Context, o Options, source *merge, deal *dealer) error {
	const every = 1 << 16
	for n := int64(1); ; n++ {
		r, err := source.next()
		if errors.Is(err, errEnd) {
			return nil
		}
		if err != nil {
			return err
		}
		deal.reading(r)
		if n%every != 0 {
			continue
		}
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("replay stopped after %d readings: %w", n, err)
		}
		if deal.disorder.Load() {
			return errDisorder
		}
		if o.Progress != nil {
			o.Progress(Progress{Readings: n, Bytes: source.bytes(), All: source.size(), At: r.Time, Sorting: !deal.streaming})
		}
	}
}

// finish waits for the engines and gathers what they found.
func finish(o Options, source *merge, deal *dealer, err error) (*Result, error) {
	result := deal.finish()
	if err == nil && deal.disorder.Load() {
		err = errDisorder
	}
	if err != nil {
		return nil, err
	}
	result.Bad = source.bad()
	slices.SortFunc(result.Alerts, func(a, b detect.Alert) int {
		return cmp.Or(a.Raised.Compare(b.Raised), cmp.Compare(a.Home, b.Home), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.ID, b.ID))
	})
	slices.SortStableFunc(result.Regenerations, func(a, b engine.HomeRecord) int {
		return cmp.Or(a.Record.Start.Compare(b.Record.Start), cmp.Compare(a.Home, b.Home))
	})
	return result, nil
}
