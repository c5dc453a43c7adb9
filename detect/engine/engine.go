package engine

import (
	"fmt"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/regeneration"
	"brinebell/detect/series"
)

// Outcome says what became of a reading.
type Outcome uint8

// The outcomes.
const (
	Accepted    Outcome = iota
	Duplicate           // the same signal and instant is already waiting
	Late                // its time has already been judged: re-run from a snapshot
	UnknownHome         // no profile
	Implausible         // cannot be a measurement; see detect.Reading.Check
)

// String names the outcome as metrics do.
func (o Outcome) String() string {
	return [...]string{"accepted", "duplicate", "late", "unknown_home", "implausible"}[o]
}

// HomeRecord is one finished regeneration, as recognised and as booked.
type HomeRecord struct {
	Home   string
	Record regeneration.Record
	Entry  books.Entry
}

// Options set an engine up. The zero value is right for everyday use.
type Options struct{}

// Engine judges the readings of its homes.
type Engine struct {
	homes   map[string]*home
	alerts  []detect.Alert
	records []HomeRecord
}

// New makes an engine for these homes.
func New(homes []detect.Home, _ Options) *Engine {
	e := &Engine{homes: make(map[string]*home, len(homes))}
	for _, h := range homes {
		e.Add(h)
	}
	return e
}

// Add adds a home, or begins one afresh with another profile.
func (e *Engine) Add(h detect.Home) { e.homes[h.ID] = newHome(e, h) }

// Observe takes a reading. Its time counts to the millisecond.
func (e *Engine) Observe(r detect.Reading) Outcome {
	h, ok := e.homes[r.Home]
	if !ok {
		return UnknownHome
	}
	if r.Check() != nil {
		return Implausible
	}
	switch h.state.Order.Add(series.Sample{At: r.Time.UnixMilli(), Value: r.Value, Signal: r.Signal}) {
	case series.Duplicate:
		return Duplicate
	case series.Late:
		return Late
	}
	h.drain()
	return Accepted
}

// Flush judges all that waits at a home, as at the end of a recording. Readings
// from before its end are late from then on.
func (e *Engine) Flush(id string) {
	if h, ok := e.homes[id]; ok {
		h.flush()
	}
}

// Take returns the alerts whose state has changed since the last Take, each in
// its latest state, in the order of their first change.
func (e *Engine) Take() []detect.Alert {
	taken := e.alerts
	e.alerts = nil
	return taken
}

// Regenerations returns the regenerations finished since the last call.
func (e *Engine) Regenerations() []HomeRecord {
	taken := e.records
	e.records = nil
	return taken
}

// Books are a home's books as of its newest judged minute; ok is false for an
// unknown home.
func (e *Engine) Books(id string) (b books.Books, ok bool) {
	h, ok := e.homes[id]
	if !ok {
		return books.Books{}, false
	}
	b = h.state.Ledger.View()
	b.Days = h.state.Ledger.DayBooks()
	return b, true
}

// Watermark is the time up to which a home's readings have been judged: an
// older reading would be late. It is zero before the first.
func (e *Engine) Watermark(id string) time.Time {
	h, ok := e.homes[id]
	if !ok || h.state.Order.Passed == 0 {
		return time.Time{}
	}
	return time.UnixMilli(h.state.Order.Passed).UTC()
}

// changed queues an alert; a newer state of one already queued replaces it.
func (e *Engine) changed(a detect.Alert) {
	for i := range e.alerts {
		if e.alerts[i].ID == a.ID {
			e.alerts[i] = a
			return
		}
	}
	e.alerts = append(e.alerts, a)
}

// Snapshot is the exact state of a home, for Restore.
func (e *Engine) Snapshot(id string) ([]byte, error) {
	h, ok := e.homes[id]
	if !ok {
		return nil, fmt.Errorf("no home %q", id)
	}
	return h.snapshot()
}

// Restore puts a home back into the state of a snapshot made with the same
// version of this package.
func (e *Engine) Restore(id string, snapshot []byte) error {
	return e.RestoreBy(NewUnpacker(), id, snapshot)
}

// RestoreBy is Restore for many homes: in a fifth of the time when they share an
// unpacker.
func (e *Engine) RestoreBy(u *Unpacker, id string, snapshot []byte) error {
	h, ok := e.homes[id]
	if !ok {
		return fmt.Errorf("no home %q", id)
	}
	return h.restore(u, snapshot)
}
