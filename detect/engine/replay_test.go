package engine

import (
	"cmp"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"time"

	"brinebell/detect"
)

// arriving puts readings into the order of their arrival, each up to most late,
// some of them twice.
func arriving(readings []detect.Reading, most time.Duration, twice float64, r *rand.Rand) []detect.Reading {
	type parcel struct {
		at time.Time
		detect.Reading
	}
	var all []parcel
	for _, x := range readings {
		all = append(all, parcel{x.Time.Add(time.Duration(r.Int64N(int64(most)))), x})
		if r.Float64() < twice {
			all = append(all, parcel{x.Time.Add(time.Duration(r.Int64N(int64(most)))), x})
		}
	}
	slices.SortStableFunc(all, func(a, b parcel) int { return a.at.Compare(b.at) })
	out := make([]detect.Reading, len(all))
	for i, p := range all {
		out[i] = p.Reading
	}
	return out
}

// finalStates are the last states of all alerts, in order.
func finalStates(alerts map[string]detect.Alert) []detect.Alert {
	var all []detect.Alert
	for _, a := range alerts {
		all = append(all, a)
	}
	slices.SortFunc(all, func(a, b detect.Alert) int { return cmp.Or(a.Raised.Compare(b.Raised), cmp.Compare(a.ID, b.ID)) })
	return all
}

// The same readings give the same alerts, to the last word, however they overtake
// each other within the minute that is waited for, whichever come twice, and
// wherever the program is stopped and taken up again from a snapshot.
func TestArrivalLeavesNoTraceInAlerts(t *testing.T) {
	readings := house(12, 5, 8, 11)
	var thin []detect.Reading // one a minute of each will do
	for i, x := range readings {
		if (i/3)%6 == 0 {
			thin = append(thin, x)
		}
	}
	want := finalStates(play(t, New([]detect.Home{profile()}, Options{}), thin))
	if len(want) < 2 {
		t.Fatalf("%d alerts", len(want))
	}
	for seed := range uint64(3) {
		r := rand.New(rand.NewPCG(seed, 8))
		e := New([]detect.Home{profile()}, Options{})
		got := map[string]detect.Alert{}
		take := func() {
			for _, a := range e.Take() {
				got[a.ID] = a
			}
		}
		for _, x := range arriving(thin, 58*time.Second, 0.05, r) {
			if e.Observe(x) == Late {
				t.Fatalf("late: %+v", x)
			}
			if r.Float64() < 1e-3 {
				take()
				e = taken(t, e)
			}
		}
		e.Flush("h")
		take()
		if all := finalStates(got); !reflect.DeepEqual(all, want) {
			t.Errorf("seed %d: %+v\nwant %+v", seed, all, want)
		}
	}
}

// taken is an engine taken up from another one's snapshot.
func taken(t *testing.T, e *Engine) *Engine {
	t.Helper()
	b, err := e.Snapshot("h")
	if err != nil {
		t.Fatal(err)
	}
	next := New([]detect.Home{profile()}, Options{})
	if err := next.Restore("h", b); err != nil {
		t.Fatal(err)
	}
	return next
}
