package engine

import (
	"bytes"
	"encoding/gob"
	"fmt"
	"math"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/cause/trait"
	"brinebell/detect/finding"
	"brinebell/detect/regeneration"
	"brinebell/detect/series"
)

// stateVersion changes whenever a snapshot of older code must not be read: the
// home then starts afresh from the stored readings.
const stateVersion = 7

// state is all that a home remembers.
type state struct {
	Version    int
	Order      series.Order
	Assembler  series.Assembler
	Log        series.Log
	Longest    int64   // ms, longest silence of the whole home that ended
	DrainOwed  float64 // drain water not yet seen at the leading meter, L
	Recogniser *regeneration.Recogniser
	Ledger     *books.Ledger
	Watches    finding.Watches
	Traits     trait.Book
	Open       map[detect.Kind]detect.Alert
	Closed     map[detect.Kind]detect.Alert // since another that stands was raised
}

type home struct {
	engine  *Engine
	profile detect.Home
	state   state
	view    finding.View
	minute  series.Minute
	entry   books.Entry
	local   localTime

	detectors []finding.Detector // of state.Watches
}

func newHome(e *Engine, profile detect.Home) *home {
	h := &home{engine: e, profile: profile}
	h.state = state{Version: stateVersion, Recogniser: regeneration.New(&h.profile), Ledger: books.New(&h.profile), Open: map[detect.Kind]detect.Alert{}}
	h.attach()
	return h
}

// attach points everything that is not part of the state at this home.
func (h *home) attach() {
	h.state.Recogniser.Attach(&h.profile)
	h.state.Ledger.Attach(&h.profile)
	h.local.location = h.profile.Location
	h.detectors = h.state.Watches.All()
	h.view = finding.View{Home: &h.profile, Minute: &h.minute, Sensors: &h.state.Assembler, Log: &h.state.Log, Books: h.state.Ledger}
}

// drain judges every reading that nothing can overtake any more.
func (h *home) drain() {
	for {
		s, ok := h.state.Order.Next()
		if !ok {
			return
		}
		h.take(s)
	}
}

func (h *home) take(s series.Sample) {
	for h.state.Assembler.Next(s.At, &h.minute) {
		h.step()
	}
	h.heard(s.At)
	p, ok := h.state.Assembler.Take(s.Signal, s.At, s.Value)
	if point, _ := s.Signal.FlowPoint(); ok && point == h.leading() {
		h.state.Log.Amend(p)
	}
}

func (h *home) flush() {
	h.state.Order.Flush()
	h.drain()
	for h.state.Assembler.Finish(&h.minute) {
		h.step()
	}
}

// leading is the flow point that sees most of the home's water.
func (h *home) leading() detect.Signal {
	if h.state.Assembler.HasFlow(detect.InletFlow) {
		return detect.InletFlow
	}
	return detect.ServiceFlow
}

// step judges the minute that has just been closed.
func (h *home) step() {
	v, m := &h.view, &h.minute
	v.Local, v.Now = h.local.at(m.Start), time.UnixMilli(h.state.Assembler.Until).UTC()
	v.Leading = h.leading()
	v.Record = h.state.Recogniser.Step(m)
	v.Ongoing, v.Regenerating = h.state.Recogniser.Ongoing()
	h.log(m, v)
	h.state.Ledger.Step(m)
	v.Entry = nil
	if r := v.Record; r != nil {
		h.entry = h.state.Ledger.Regeneration(r)
		v.Entry = &h.entry
		h.engine.records = append(h.engine.records, HomeRecord{h.profile.ID, *r, h.entry})
	}
	h.compare()
	for _, d := range h.detectors {
		h.hear(d.Step(v))
	}
	h.refresh()
}

// drainMargin is by how much the drain's meter may read low against the leading
// one: two class 2 meters at the edge of what ISO 4064 allows near their least
// flow, 5 % each.
const drainMargin = 1.1

// log keeps the water that the household used: what the leading meter saw less
// what the softener sent to the drain. Regenerations are taken out as they
// become known.
func (h *home) log(m *series.Minute, v *finding.View) {
	flow, ok := m.Get(v.Leading)
	if drain, seen := m.Get(detect.DrainFlow); ok && seen && h.seesDrainWater(v.Leading) {
		flow = h.lessDrain(flow, drain)
	}
	if !ok || v.Regenerating {
		flow = math.NaN()
	}
	h.state.Log.Put(m.Start, flow)
	if r := v.Record; r != nil {
		h.state.Log.Forget(r.Start, r.End)
	}
}

// lessDrain takes drain water off the leading meter's. The two meters' pulses
// fall into different minutes, so what is left to take off is carried over.
func (h *home) lessDrain(flow, drain float64) float64 {
	owed := h.state.DrainOwed + drainMargin*drain
	taken := math.Min(flow, math.Max(owed, 0))
	const minutes = 10 // of drain water and a pulse are carried, not more: a dead meter would owe for ever
	h.state.DrainOwed = math.Min(owed-taken, minutes*drain+h.state.Assembler.Meter(detect.DrainFlow).Step)
	return flow - taken
}

func (h *home) seesDrainWater(point detect.Signal) bool {
	m := h.profile.Meters.Service
	return point == detect.InletFlow || m == nil || !m.Downstream
}

// hear turns a verdict into the alert's next state.
func (h *home) hear(v *finding.Verdict) {
	if v == nil {
		return
	}
	open, isOpen := h.state.Open[v.Kind]
	now := h.view.Now
	switch {
	case !v.Standing && isOpen:
		open.Cleared = now
		h.close(open)
	case !v.Standing:
		return
	case !isOpen:
		onset := v.Onset.UTC()
		open = detect.Alert{ID: detect.AlertID(h.profile.ID, v.Kind, onset), Home: h.profile.ID, Kind: v.Kind, Onset: onset, Raised: now}
	}
	if v.Standing {
		open.Severity, open.Summary, open.Evidence = v.Severity, v.Summary, h.withTraits(open, v.Evidence)
		h.state.Open[v.Kind] = open
		open.Causes = h.blame(open)
		h.state.Open[v.Kind] = open
		h.reconsider(v.Kind)
	}
	h.engine.changed(open)
}

func (h *home) snapshot() ([]byte, error) {
	var b bytes.Buffer
	if err := gob.NewEncoder(&b).Encode(&h.state); err != nil {
		return nil, fmt.Errorf("snapshot of %s: %w", h.profile.ID, err)
	}
	return b.Bytes(), nil
}

func (h *home) restore(u *Unpacker, snapshot []byte) error {
	var s state
	if err := u.decode(snapshot, &s); err != nil {
		return fmt.Errorf("snapshot of %s: %w", h.profile.ID, err)
	}
	if s.Version != stateVersion {
		return fmt.Errorf("snapshot of %s: version %d, this program reads %d", h.profile.ID, s.Version, stateVersion)
	}
	if s.Open == nil {
		s.Open = map[detect.Kind]detect.Alert{}
	}
	h.state = s
	h.attach()
	return nil
}
