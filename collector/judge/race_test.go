package judge

import (
	"context"
	"reflect"
	"testing"
	"time"

	"brinebell/collector/series"
	"brinebell/collector/state"
	"brinebell/detect"
)

// interrupted is stores that let something happen once: after they have said
// whether a re-run is wanted, or before the newest snapshot is looked for, or
// once a home has been read.
type interrupted struct {
	State
	series.Store
	wanted, looked, read func()
}

func once(do *func()) {
	if now := *do; now != nil {
		*do = nil
		now()
	}
}

func (i *interrupted) WantedRerun(ctx context.Context, home string) (time.Time, bool, error) {
	defer once(&i.wanted)
	return i.State.WantedRerun(ctx, home)
}

func (i *interrupted) SnapshotBefore(ctx context.Context, home string, before time.Time) (state.Snapshot, bool, error) {
	once(&i.looked)
	return i.State.SnapshotBefore(ctx, home, before)
}

func (i *interrupted) ReadHome(ctx context.Context, home string, from, to time.Time) ([]detect.Reading, error) {
	defer once(&i.read)
	return series.ReadHome(ctx, i.Store, home, from, to)
}

// TestALateReadingAtEachMoment lets a reading that is older than the newest
// snapshot come at each moment of a home's start and of its being judged again.
// It must be judged whenever it comes.
func TestALateReadingAtEachMoment(t *testing.T) {
	before := []detect.Reading{flow(0, 1), flow(30, 120), flow(60, 1), flow(600, 1)}
	late := flow(20, 130) // makes the alert begin earlier
	want := awake(t, before, []detect.Reading{late, flow(700, 3)})
	for _, rerun := range []bool{false, true} {
		for name, at := range map[string]func(*interrupted) *func(){
			"wanted": func(i *interrupted) *func() { return &i.wanted },
			"looked": func(i *interrupted) *func() { return &i.looked },
			"read":   func(i *interrupted) *func() { return &i.read },
		} {
			if rerun && name == "wanted" {
				continue // is asked at a start only
			}
			b := newBench(t, 1)
			b.start()
			for _, r := range before { // one by one, or no snapshot would be due
				b.take(r)
			}
			b.finish()
			if newest, err := b.state.NewestSnapshots(t.Context()); err != nil || !newest["home-0"].After(late.Time) {
				t.Fatalf("%v %v: the reading would not be late", newest, err)
			}
			stores := &interrupted{State: b.state, Store: b.store}
			come := func() { b.take(late) }
			if !rerun {
				*at(stores) = come
			}
			b.startWith(stores, stores)
			b.wake()
			if rerun {
				b.take(flow(590, 2), flow(100, 2)) // reason enough to judge again, and from after the late one
				*at(stores) = come
				b.rerunAll()
			}
			b.take(flow(700, 3))
			b.rerunAll()
			b.finish()
			got, _ := b.alerts()
			for i := range got { // the readings that asked for the re-run count in the sum
				got[i].Evidence = nil
			}
			for i := range want {
				want[i].Evidence = nil
			}
			if !reflect.DeepEqual(got, want) {
				t.Errorf("late at %q, re-run %v:\n%v\nwant\n%v", name, rerun, got, want)
			}
		}
	}
}
