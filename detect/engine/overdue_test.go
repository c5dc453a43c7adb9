package engine

import (
	"reflect"
	"testing"
	"time"

	"brinebell/detect"
)

func levels(e *Engine, from time.Time, hours int) {
	for m := range hours * 60 {
		e.Observe(detect.Reading{Home: "h", Signal: detect.BrineLevel, Time: from.Add(time.Duration(m) * time.Minute), Value: 300})
	}
}

func TestOverdue(t *testing.T) {
	e := New([]detect.Home{profile()}, Options{})
	start := time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC)
	if _, ok := e.Overdue("h", start); ok || !e.LastHeard("h").IsZero() {
		t.Error("a home that never spoke is not silent")
	}
	levels(e, start, 24)
	last := e.LastHeard("h")
	if want := start.Add(24*time.Hour - time.Minute); !last.Equal(want) {
		t.Errorf("heard %s, want %s", last, want)
	}
	if _, ok := e.Overdue("h", last.Add(11*time.Hour)); ok {
		t.Error("after eleven hours")
	}
	a, ok := e.Overdue("h", last.Add(13*time.Hour))
	if !ok || a.Kind != detect.SensorSilent || !a.Open() || a.Raised.Sub(last) != 12*time.Hour || a.Summary == "" {
		t.Errorf("%+v", a)
	}
	if b, _ := e.Overdue("h", last.Add(300*time.Hour)); !reflect.DeepEqual(a, b) {
		t.Error("asked again it is another alert")
	}
	// After a night off the air that ended by itself, such a night is no news.
	levels(e, last.Add(10*time.Hour), 2)
	last = e.LastHeard("h")
	if _, ok := e.Overdue("h", last.Add(20*time.Hour)); ok {
		t.Error("twice a silence that is known here")
	}
	if _, ok := e.Overdue("h", last.Add(31*time.Hour)); !ok {
		t.Error("three times a silence that is known here")
	}
	if _, ok := e.Overdue("x", last); ok || !e.LastHeard("x").IsZero() {
		t.Error("an unknown home")
	}
}

// What it rests on survives a restart.
func TestOverdueIsKept(t *testing.T) {
	start := time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC)
	e := New([]detect.Home{profile()}, Options{})
	levels(e, start, 5)
	levels(e, start.Add(14*time.Hour), 5)
	b, err := e.Snapshot("h")
	if err != nil {
		t.Fatal(err)
	}
	again := New([]detect.Home{profile()}, Options{})
	if err := again.Restore("h", b); err != nil {
		t.Fatal(err)
	}
	now := start.Add(100 * time.Hour)
	want, _ := e.Overdue("h", now)
	if got, ok := again.Overdue("h", now); !ok || !reflect.DeepEqual(got, want) {
		t.Errorf("%+v, want %+v", got, want)
	}
}
