package judge

import (
	"context"
	"errors"
	"reflect"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"brinebell/collector/series"
	"brinebell/detect"
)

// gated is a store that shows nothing of its homes until its gate opens, or
// fails at first.
type gated struct {
	series.Store
	gate chan struct{}
	fail atomic.Int64 // so many times
}

var errDown = errors.New("the store is down")

func (g *gated) Signals(ctx context.Context, home string) ([]detect.Signal, error) {
	if g.fail.Add(-1) >= 0 {
		return nil, errDown
	}
	select {
	case <-g.gate:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	return g.Store.Signals(ctx, home)
}

// ReadHome goes by Signals, whatever the store behind it can.
func (g *gated) ReadHome(ctx context.Context, home string, from, to time.Time) ([]detect.Reading, error) {
	if _, err := g.Signals(ctx, home); err != nil {
		return nil, err
	}
	return series.ReadHome(ctx, g.Store, home, from, to)
}

// awake are a bench's readings before and after a restart, given to a judge
// that is awake.
func awake(t *testing.T, before, after []detect.Reading) []detect.Alert {
	b := newBench(t, 1)
	b.start()
	b.take(before...)
	b.take(after...)
	b.rerunAll()
	b.finish()
	alerts, _ := b.alerts()
	return alerts
}

// TestReadingsAreTakenWhileHomesSleep gives readings, one of them older than
// what the home begins with, before it begins.
func TestReadingsAreTakenWhileHomesSleep(t *testing.T) {
	before := []detect.Reading{flow(0, 1), flow(30, 120), flow(60, 120), flow(90, 1), flow(600, 1)}
	after := []detect.Reading{flow(20, 130), flow(610, 140), flow(640, 2), flow(700, 3)}
	b := newBench(t, 1)
	b.start()
	b.take(before...)
	b.finish()

	store := &gated{Store: b.store, gate: make(chan struct{})}
	b.startAsleep(store)
	if b.judge.Behind() != 1 {
		t.Error("not asleep")
	}
	for _, r := range after {
		b.take(r) // waits for nothing
	}
	close(store.gate)
	b.wake()
	b.rerunAll()
	if b.judge.Behind() != 0 {
		t.Error("still behind")
	}
	b.finish()
	got, _ := b.alerts()
	if want := awake(t, before, after); len(want) != 2 || !reflect.DeepEqual(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

// TestStoreThatIsDownAtTheStart is asked again, and readings are taken meanwhile.
func TestStoreThatIsDownAtTheStart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t, 3)
		store := &gated{Store: b.store, gate: make(chan struct{})}
		store.fail.Store(3)
		close(store.gate)
		b.startAsleep(store)
		b.take(flow(0, 1), flow(30, 120), flow(60, 1), flow(120, 1))
		b.wake()
		b.finish()
		if alerts, _ := b.alerts(); len(alerts) != 1 || alerts[0].Cleared.IsZero() {
			t.Errorf("%v, want one alert", alerts)
		}
	})
}
