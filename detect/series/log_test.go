package series

import (
	"testing"
	"time"
)

func TestLog(t *testing.T) {
	var l Log
	start := time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC)
	at := func(m int) time.Time { return start.Add(time.Duration(m) * time.Minute) }
	for m := range 3000 {
		if m >= 2900 && m < 2950 {
			continue // a gap
		}
		l.Put(at(m), float64(m))
	}
	span := l.Span(at(2890), 120, nil)
	known := 0
	for i, f := range span {
		if f == f {
			known++
			if int(f) != 2890+i {
				t.Fatalf("minute %d holds %v", 2890+i, f)
			}
		}
	}
	if known != 10+50 {
		t.Errorf("%d minutes known, want 60: the gap and the future are not", known)
	}
	if old := l.Span(at(0), 10, nil); old[0] == old[0] {
		t.Error("what has left the log is unknown")
	}
	l.Amend(Passage{From: at(2895).UnixMilli(), To: at(2960).UnixMilli(), DryUntil: at(2940).UnixMilli(), Litres: 20, Known: true})
	span = l.Span(at(2890), 70, span)
	if span[8] != 2898 || span[15] != 0 || span[55] != 1 || span[65] != 2955 {
		t.Errorf("only the unknown is amended: %v", span)
	}
	l.Forget(at(2895), at(2900))
	if f := l.Span(at(2897), 1, span)[0]; f == f {
		t.Error("forgotten", f)
	}
	l.Put(at(10), 1)
	if f := l.Span(at(2999), 1, span)[0]; f != 2999 {
		t.Error("an old minute is left alone", f)
	}
}
