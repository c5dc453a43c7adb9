package web

import (
	"context"
	"errors"
	"slices"
	"sync"
	"time"

	"brinebell/detect"
	"brinebell/detect/care"
)

// fakeBook keeps cases in memory, by the same rules as the real one: those of
// package care.
type fakeBook struct {
	town *fakeTown

	mu      sync.Mutex // guards all below
	cases   []Case
	reports map[string][]Report
	away    []detect.Span
	salt    []float64
	kept    []Search
	refuses error // given by everything that takes something, when set
}

var (
	_ Cases    = (*fakeBook)(nil)
	_ Searches = (*fakeBook)(nil)
)

// newFakeBook opens a case for each home's alerts.
func newFakeBook(f *fakeTown) *fakeBook {
	b := &fakeBook{town: f, reports: map[string][]Report{}}
	for _, a := range f.alerts {
		if !a.Open() {
			continue
		}
		i := slices.IndexFunc(b.cases, func(c Case) bool { return c.Home == a.Home })
		if i < 0 {
			c := care.Case{Home: a.Home}
			opened, err := c.Next(care.Step{At: a.Raised, Act: care.Raised, Alert: a.ID}, "")
			if err != nil {
				panic(err)
			}
			b.cases = append(b.cases, Case{Case: opened, Opened: a.Raised, Severity: a.Severity, Kind: a.Kind, Loss: care.Loss{Water: 446, PerDay: 1.43, Currency: "EUR"}})
			continue
		}
		b.step(&b.cases[i], care.Step{At: a.Raised, Act: care.Raised, Alert: a.ID}, "")
	}
	return b
}

func (b *fakeBook) step(c *Case, s care.Step, role care.Role) error {
	next, err := c.Next(s, role)
	if err != nil {
		return err
	}
	c.Case = next
	c.Version++
	return nil
}

func (b *fakeBook) Open(_ context.Context, homes []string) ([]Case, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	var out []Case
	for _, c := range b.cases {
		if c.Stage != care.Closed && (homes == nil || slices.Contains(homes, c.Home)) {
			out = append(out, c)
		}
	}
	return out, b.town.broken
}

func (b *fakeBook) Case(_ context.Context, id string) (Case, bool, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, c := range b.cases {
		if c.ID == id || slices.Contains(c.Alerts, id) {
			return c, true, b.town.broken
		}
	}
	return Case{}, false, b.town.broken
}

// plainError is fit for a page.
type plainError string

func (e plainError) Error() string { return string(e) }
func (e plainError) Plain() string { return string(e) }

func (b *fakeBook) Act(_ context.Context, by care.Person, id string, d Doing) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	for i := range b.cases {
		if c := &b.cases[i]; c.ID == id {
			if d.Version != 0 && d.Version != c.Version {
				return plainError("Somebody else was quicker: look again.")
			}
			role := by.Role
			if role == "" {
				role = care.Manager
			}
			return errors.Join(b.refuses, b.step(c, care.Step{At: fakeNow.Add(time.Minute), By: by.ID, Act: d.Act, Alert: d.Alert, Cause: d.Cause, Text: d.Text}, role))
		}
	}
	return plainError("no such case")
}

func (b *fakeBook) Report(_ context.Context, by care.Person, home string, r Report) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	r.At, r.By = fakeNow, by.ID
	b.reports[home] = append(b.reports[home], r)
	return b.refuses
}

func (b *fakeBook) Reports(_ context.Context, home string) ([]Report, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Clone(b.reports[home]), b.town.broken
}

func (b *fakeBook) FalseAlarms(context.Context, string) ([]FalseAlarm, error) {
	return []FalseAlarm{{detect.NightLeak, 1, 7}}, b.town.broken
}

func (b *fakeBook) Away(_ context.Context, _ care.Person, _ string, from, to time.Time) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.away = append(b.away, detect.Span{From: from, To: to})
	return b.refuses
}

func (b *fakeBook) Salt(_ context.Context, _ care.Person, _ string, _ time.Time, kg float64) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.salt = append(b.salt, kg)
	return b.refuses
}

func (b *fakeBook) Searches(context.Context, string) ([]Search, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Clone(b.kept), b.town.broken
}

func (b *fakeBook) SaveSearch(_ context.Context, _ string, s Search) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.kept = append(b.kept, s)
	return b.refuses
}

func (b *fakeBook) ForgetSearch(_ context.Context, _, name string) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.kept = slices.DeleteFunc(b.kept, func(s Search) bool { return s.Name == name })
	return b.refuses
}

// fakeRefusals are what no collector of good sensors would have.
func fakeRefusals() []Refused {
	return []Refused{{Topic: "homes/mill-lane-4/sensors/attic", Reason: "bad_payload", Detail: "unexpected end of the pack", Payload: []byte("{\"n\": <b>\x01\xff"), Count: 12, First: fakeNow.Add(-time.Hour), Last: fakeNow},
		{Topic: "shed", Reason: "unknown_topic", Count: 1, First: fakeNow, Last: fakeNow}}
}

// fakeReplayer gives back what it was asked for, with a state that moves and one
// that does not.
type fakeReplayer struct {
	town  *fakeTown
	asked Recording
	err   error
}

func (f *fakeReplayer) Replay(ctx context.Context, r Recording) (Trace, error) {
	f.asked = r
	from, to := fakeNow.AddDate(0, 0, -3), fakeNow
	points, _ := f.town.Points(ctx, r.Home.ID, detect.InletFlow, from, to, 200)
	t := Trace{From: from, To: to, Readings: 4320, Alerts: f.town.alerts[2:3], Watches: []string{"NightLeak", "Burst"},
		Signals: []SignalTrace{{detect.InletFlow, points}}, Bad: []string{"x.csv:3: no number"}}
	if r.Watch != "" {
		moving, still := StateTrace{Name: "Rate.Sum"}, StateTrace{Name: "Rung"}
		for i := range 50 {
			at := from.Add(time.Duration(i) * time.Hour)
			moving.Points = append(moving.Points, Point{at, float64(i), float64(i), float64(i)})
			still.Points = append(still.Points, Point{at, 2, 2, 2})
		}
		t.States = []StateTrace{moving, still}
	}
	return t, f.err
}

// fullOptions are a server with everything that it can have.
func fullOptions(f *fakeTown) Options {
	book := newFakeBook(f)
	return Options{Source: f, Title: "Saltmarsh", CauseText: fakeCause, Cases: book, Told: Told{book.Away, book.Salt}, Searches: book, Refused: fakeRefusals, Replayer: &fakeReplayer{town: f},
		Clock: func() time.Time { return fakeNow.Add(time.Minute) }}
}
