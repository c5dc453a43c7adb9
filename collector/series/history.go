package series

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/oklog/ulid/v2"
	"github.com/prometheus/prometheus/tsdb"

	"brinebell/detect"
)

const (
	// SumsDir is the folder in the store's where sums are.
	SumsDir = "sums"
	// markFile says up to which day readings have been summed up.
	markFile = "mark"
	day      = 24 * time.Hour
	// sumEvery is how often days are looked for that are to be summed up: their
	// readings may not be deleted before.
	sumEvery = time.Hour
)

// history keeps sums of readings that are older than readings are kept. A day is
// summed up when it is as old as that: late readings cannot come any more then, so
// a sum is never worked out twice. Until then sums follow from the readings.
//
// Its stores are opened when there is something to keep, as most collectors never
// come to that.
type history struct {
	opts Options // of the readings' store
	dir  string
	mark time.Time // before it all is summed up; zero when nothing is

	opening sync.Mutex // guards stores
	stores  []*sumLevel
}

// sumLevel keeps sums of one length.
type sumLevel struct {
	width time.Duration
	store *TSDB
}

// openHistory opens the sums that there are.
func openHistory(o Options) (*history, error) {
	h := &history{opts: o, dir: filepath.Join(o.Dir, SumsDir)}
	text, err := os.ReadFile(filepath.Join(h.dir, markFile))
	if errors.Is(err, fs.ErrNotExist) {
		return h, nil
	}
	if err != nil {
		return nil, err
	}
	if h.mark, err = time.Parse(time.DateOnly, strings.TrimSpace(string(text))); err != nil {
		return nil, fmt.Errorf("%s: %w", filepath.Join(h.dir, markFile), err)
	}
	_, err = h.levels()
	return h, err
}

// levels opens the stores of sums, once.
func (h *history) levels() ([]*sumLevel, error) {
	h.opening.Lock()
	defer h.opening.Unlock()
	if h.stores != nil {
		return h.stores, nil
	}
	var levels []*sumLevel
	for _, l := range []struct {
		name  string
		width time.Duration
		keep  time.Duration
	}{{"five_minutes", 5 * time.Minute, h.opts.FiveMinutes}, {"hours", time.Hour, h.opts.Hours}} {
		store, err := openSums(h.opts, filepath.Join(h.dir, l.name), l.keep)
		if err != nil {
			for _, l := range levels {
				err = errors.Join(err, l.store.Close())
			}
			return nil, err
		}
		levels = append(levels, &sumLevel{l.width, store})
	}
	h.stores = levels
	return levels, nil
}

// level keeps the sums of an hour, or of five minutes when less is wanted.
func (h *history) level(width time.Duration) (*sumLevel, error) {
	levels, err := h.levels()
	if err != nil {
		return nil, err
	}
	if width >= time.Hour {
		return levels[1], nil
	}
	return levels[0], nil
}

// openSums opens a store of sums, which is one of readings without sums of its own.
func openSums(o Options, dir string, keep time.Duration) (*TSDB, error) {
	o.Dir, o.Retention, o.Window = dir, keep, min(keep, DefaultWindow)
	o.Registerer, o.Metrics, o.noHistory = nil, nil, true
	o.Logger = o.Logger.With(slog.String("sums", filepath.Base(dir)))
	return Open(o)
}

func (h *history) close() error {
	if h == nil {
		return nil
	}
	h.opening.Lock()
	defer h.opening.Unlock()
	var errs []error
	for _, l := range h.stores {
		errs = append(errs, l.store.Close())
	}
	return errors.Join(errs...)
}

// setMark notes up to which day all is summed up.
func (h *history) setMark(t time.Time) error {
	if err := os.MkdirAll(h.dir, 0o750); err != nil {
		return err
	}
	path := filepath.Join(h.dir, markFile)
	if err := os.WriteFile(path+".new", []byte(t.Format(time.DateOnly)+"\n"), 0o640); err != nil {
		return err
	}
	return os.Rename(path+".new", path)
}

// Run sums up what becomes too old to be kept, until ctx ends.
func (s *TSDB) Run(ctx context.Context) error {
	ticker := time.NewTicker(sumEvery)
	defer ticker.Stop()
	for {
		if err := s.SumUp(ctx); err != nil && ctx.Err() == nil {
			s.opts.Logger.Error("readings that are to be deleted could not be summed up; they are kept for now", "error", err)
		}
		select {
		case <-ticker.C:
		case <-ctx.Done():
			return nil
		}
	}
}

// SumUp sums up the days that are older than readings are kept. Run does so by
// itself; this is for maintenance and tests.
func (s *TSDB) SumUp(ctx context.Context) error {
	oldest, newest, ok := s.bounds()
	if !ok || s.history == nil {
		return nil
	}
	from := s.summedUp()
	if from.IsZero() {
		from = oldest.UTC().Truncate(day)
	}
	for ; !from.Add(day).After(newest.Add(-s.opts.Retention)); from = from.Add(day) {
		if err := s.sumUpDay(ctx, from); err != nil {
			return err
		}
		if err := s.history.setMark(from.Add(day)); err != nil {
			return err
		}
		s.mu.Lock()
		s.history.mark = from.Add(day)
		s.mu.Unlock()
	}
	return nil
}

// summedUp is before when all is summed up.
func (s *TSDB) summedUp() time.Time {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if s.history == nil {
		return time.Time{}
	}
	return s.history.mark
}

func (s *TSDB) sumUpDay(ctx context.Context, from time.Time) error {
	homes, err := s.Homes(ctx)
	if err != nil {
		return err
	}
	levels, err := s.history.levels()
	if err != nil {
		return err
	}
	for _, home := range homes {
		readings, err := ReadHome(ctx, s, home, from, from.Add(day))
		if err != nil || len(readings) == 0 {
			if err != nil {
				return err
			}
			continue
		}
		for _, l := range levels {
			if _, err := l.store.Append(ctx, l.asReadings(home, readings)); err != nil {
				return err
			}
		}
	}
	return nil
}

// asReadings sums up a home's readings, and gives the sums as they are kept.
func (l *sumLevel) asReadings(home string, readings []detect.Reading) (out []detect.Reading) {
	var of [detect.NumSignals][]Point
	for _, r := range readings {
		of[r.Signal] = append(of[r.Signal], Point{r.Time, r.Value})
	}
	for signal, points := range of {
		for _, sum := range sumsOf(points, l.width) {
			for _, p := range sum.points() {
				out = append(out, detect.Reading{Home: home, Signal: detect.Signal(signal), Time: p.Time, Value: p.Value})
			}
		}
	}
	return out
}

// deletable picks the blocks that the library may delete: those that are merged
// into others, and those that are too old and summed up.
func (s *TSDB) deletable(blocks []*tsdb.Block) map[ulid.ULID]struct{} {
	out := map[ulid.ULID]struct{}{}
	newest := int64(-everything)
	for _, b := range blocks {
		newest = max(newest, b.MaxTime())
	}
	mark := s.summedUp().UnixMilli()
	for _, b := range blocks {
		tooOld := newest-b.MaxTime() > s.opts.Retention.Milliseconds() && (s.opts.noHistory || b.MaxTime() <= mark)
		if b.Meta().Compaction.Deletable || tooOld {
			out[b.Meta().ULID] = struct{}{}
		}
	}
	return out
}
