package transfer

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"brinebell/collector/series"
	"brinebell/detect"
)

const (
	// DefaultAtOnce homes hide the time that a server takes to answer.
	DefaultAtOnce = 4
	day           = 24 * time.Hour
	// maxDifferences bounds what a report names.
	maxDifferences = 20
)

// Options say what is copied. From and To must be set.
type Options struct {
	From, To series.Store
	// Journal is a file that notes what has been copied; without it everything
	// is looked at again.
	Journal string
	AtOnce  int            // homes copied at the same time; DefaultAtOnce when 0
	Shown   func(Progress) // told of each home's day; may be nil
}

// Progress says how far a copy is.
type Progress struct {
	Day         time.Time
	Done, Total int   // home days
	Readings    int64 // copied and checked
}

// Report is what a copy came to.
type Report struct {
	Progress
	Resumed     int          // home days that the journal had already
	Rejected    int64        // readings that the target does not take
	Differences []Difference // the first of them
	Differing   int          // home days that are not the same on both sides
}

// Difference is a home's day that is not the same on both sides.
type Difference struct {
	Home string
	Day  time.Time
	Why  string
}

// String says which and why.
func (d Difference) String() string {
	return fmt.Sprintf("%s on %s: %s", d.Home, d.Day.Format(time.DateOnly), d.Why)
}

// copier is one run.
type copier struct {
	opts    Options
	journal *journal

	mu     sync.Mutex // guards report
	report Report
}

// Copy copies everything. Differences are in the report and no error; they come
// from readings that the target does not take, or has with another value.
func Copy(ctx context.Context, opts Options) (r Report, err error) {
	if opts.From == nil || opts.To == nil {
		return r, errors.New("transfer: From and To must be set")
	}
	if opts.AtOnce == 0 {
		opts.AtOnce = DefaultAtOnce
	}
	c := &copier{opts: opts}
	homes, first, last, err := extent(ctx, opts.From)
	if err != nil || first.IsZero() {
		return r, err
	}
	if c.journal, err = openJournal(opts.Journal); err != nil {
		return r, err
	}
	defer func() { err = errors.Join(err, c.journal.close()) }()
	c.report.Total = len(homes) * int(last.Sub(first)/day+1)
	for d := first; !d.After(last); d = d.Add(day) {
		if err := c.copyDay(ctx, homes, d); err != nil {
			return c.report, err
		}
	}
	return c.report, nil
}

// extent is which homes a store has, and its first and last day.
func extent(ctx context.Context, s series.Store) (homes []string, first, last time.Time, err error) {
	if homes, err = s.Homes(ctx); err != nil || len(homes) == 0 {
		return nil, first, last, err
	}
	for _, home := range homes {
		if first, err = earlier(ctx, s, home, first); err != nil {
			return nil, first, last, err
		}
		signals, err := s.Signals(ctx, home)
		if err != nil {
			return nil, first, last, err
		}
		for _, signal := range signals {
			p, ok, err := s.Latest(ctx, home, signal)
			if err != nil {
				return nil, first, last, err
			}
			if ok && p.Time.After(last) {
				last = p.Time
			}
		}
	}
	return homes, first.UTC().Truncate(day), last.UTC().Truncate(day), nil
}

// errEnough ends the reading of a home whose first readings are known.
var errEnough = errors.New("enough")

// earlier is the time of a home's first reading, or first when that is earlier
// or the home has none. A store's own oldest time is a bound that may lie years
// before, and shift while the store tidies up.
func earlier(ctx context.Context, s series.Store, home string, first time.Time) (time.Time, error) {
	err := series.EachHome(ctx, s, home, time.Time{}, func(page []detect.Reading) error {
		if at := page[0].Time; first.IsZero() || at.Before(first) {
			first = at
		}
		return errEnough
	})
	if errors.Is(err, errEnough) {
		err = nil
	}
	return first, err
}

func (c *copier) copyDay(ctx context.Context, homes []string, d time.Time) error {
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(c.opts.AtOnce)
	for _, home := range homes {
		if c.journal.has(home, d) {
			c.note(d, func(r *Report) { r.Resumed++ })
			continue
		}
		group.Go(func() error { return c.copyHome(ctx, home, d) })
	}
	if err := group.Wait(); err != nil {
		return err
	}
	return c.journal.flush()
}

// note counts a home's day.
func (c *copier) note(d time.Time, do func(*Report)) {
	c.mu.Lock()
	defer c.mu.Unlock()
	do(&c.report)
	c.report.Done++
	c.report.Day = d
	if c.opts.Shown != nil {
		c.opts.Shown(c.report.Progress)
	}
}

// copyHome copies a home's day and compares it.
func (c *copier) copyHome(ctx context.Context, home string, d time.Time) error {
	readings, err := series.ReadHome(ctx, c.opts.From, home, d, d.Add(day))
	if err != nil {
		return err
	}
	rejected, err := c.write(ctx, readings)
	if err != nil {
		return err
	}
	why := ""
	if len(readings) > 0 {
		there, err := series.ReadHome(ctx, c.opts.To, home, d, d.Add(day))
		if err != nil {
			return err
		}
		why = compare(readings, there)
	}
	if why == "" {
		c.journal.add(home, d)
	}
	c.note(d, func(r *Report) {
		r.Rejected += int64(len(rejected))
		if why == "" {
			r.Readings += int64(len(readings))
			return
		}
		if r.Differing++; len(r.Differences) < maxDifferences {
			r.Differences = append(r.Differences, Difference{home, d, because(why, rejected)})
		}
	})
	return nil
}

// because adds a target's first reason to a difference.
func because(why string, rejected []series.Rejected) string {
	if len(rejected) == 0 {
		return why
	}
	return fmt.Sprintf("%s; the target did not take %d readings (%v)", why, len(rejected), rejected[0].Err)
}

func (c *copier) write(ctx context.Context, readings []detect.Reading) ([]series.Rejected, error) {
	if len(readings) == 0 {
		return nil, nil
	}
	return c.opts.To.Append(ctx, readings)
}
