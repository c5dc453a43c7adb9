package judge

import (
	"encoding/json"
	"slices"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/engine"
	"brinebell/detect/regeneration"
)

// fakeEngine is a small engine whose every alert follows from its readings in
// order of time: a value of 100 or more raises an alert, the next lower one
// clears it, and its evidence is a running sum, so that a reading that is
// missed or counted twice shows in every alert after it.
type fakeEngine struct {
	home    string
	state   fakeState
	alerts  []detect.Alert
	records []engine.HomeRecord
}

type fakeState struct {
	Waiting []detect.Reading // sorted, after Passed
	Newest  time.Time
	Passed  time.Time // readings before it have been judged
	Sum     float64
	Open    *detect.Alert
}

// patience is how much readings may overtake each other.
const patience = 10 * time.Minute

func newFake(h detect.Home) Engine { return &fakeEngine{home: h.ID} }

func (e *fakeEngine) Observe(r detect.Reading) engine.Outcome {
	s := &e.state
	if r.Time.Before(s.Passed) {
		return engine.Late
	}
	i, found := slices.BinarySearchFunc(s.Waiting, r.Time, func(w detect.Reading, t time.Time) int { return w.Time.Compare(t) })
	if found {
		return engine.Duplicate
	}
	s.Waiting = slices.Insert(s.Waiting, i, r)
	if r.Time.After(s.Newest) {
		s.Newest = r.Time
	}
	if passed := s.Newest.Add(-patience); passed.After(s.Passed) {
		s.Passed = passed
	}
	for len(s.Waiting) > 0 && s.Waiting[0].Time.Before(s.Passed) {
		e.step(s.Waiting[0])
		s.Waiting = s.Waiting[1:]
	}
	return engine.Accepted
}

func (e *fakeEngine) step(r detect.Reading) {
	s := &e.state
	s.Sum += r.Value
	switch {
	case r.Value >= 100 && s.Open == nil:
		s.Open = &detect.Alert{ID: detect.AlertID(e.home, detect.Burst, r.Time), Home: e.home, Kind: detect.Burst, Severity: detect.ActNow,
			Onset: r.Time, Raised: r.Time, Evidence: detect.Evidence{"sum": s.Sum}}
		e.alerts = append(e.alerts, *s.Open)
	case r.Value < 100 && s.Open != nil:
		s.Open.Cleared = r.Time
		e.alerts = append(e.alerts, *s.Open)
		s.Open = nil
	case r.Value == 50:
		e.records = append(e.records, engine.HomeRecord{Home: e.home, Record: regeneration.Record{Start: r.Time, End: r.Time, BrineLitres: s.Sum},
			Entry: books.Entry{Start: r.Time, Salt: books.Number(s.Sum / 3)}})
	}
}

func (e *fakeEngine) Take() (taken []detect.Alert) { taken, e.alerts = e.alerts, nil; return taken }

func (e *fakeEngine) Regenerations() (taken []engine.HomeRecord) {
	taken, e.records = e.records, nil
	return taken
}

func (e *fakeEngine) Books(string) (books.Books, bool) {
	return books.Books{At: e.state.Passed, PastWeek: books.Number(e.state.Sum)}, true
}

func (e *fakeEngine) Watermark(string) time.Time { return e.state.Passed }

func (e *fakeEngine) Snapshot(string) ([]byte, error) { return json.Marshal(e.state) }

func (e *fakeEngine) Restore(_ string, data []byte) error {
	e.state = fakeState{}
	return json.Unmarshal(data, &e.state)
}
