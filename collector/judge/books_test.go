package judge

import (
	"testing"
	"time"

	"brinebell/detect"
)

func TestBooks(t *testing.T) {
	b := newBench(t, 2)
	b.start()
	if _, ok := b.judge.Books("nowhere"); ok {
		t.Error("books of an unknown home")
	}
	b.take(detect.Reading{Home: "home-0", Signal: detect.InletFlow, Time: noon, Value: 7},
		detect.Reading{Home: "home-0", Signal: detect.InletFlow, Time: noon.Add(time.Hour), Value: 9})
	if got, ok := b.judge.Books("home-0"); !ok || got.PastWeek != 7 {
		t.Errorf("%v %v, want the 7 that is judged", got.PastWeek, ok)
	}
	s := b.judge.of["home-0"]
	s.mu.Lock() // as while it works
	if got, ok := b.judge.Books("home-0"); !ok || got.PastWeek != 7 {
		t.Errorf("%v %v while at work, want the books as last read", got.PastWeek, ok)
	}
	s.mu.Unlock()
	b.finish()
}

func TestNoBooksBeforeReady(t *testing.T) {
	b := newBench(t, 1)
	j, err := New(Options{Homes: b.homes, Store: b.store, State: b.state, NewEngine: b.engine})
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := j.Books("home-0"); ok {
		t.Error("books of a home that has not caught up")
	}
}
