package main

import (
	"fmt"
	"time"

	"brinebell/detect"
	"brinebell/detect/engine"
	"brinebell/detect/regeneration"
	"brinebell/simulator"
	"brinebell/simulator/fault"
	"brinebell/simulator/household"
	"brinebell/simulator/plant"
	"brinebell/simulator/sensor"
)

// trueCycle is one regeneration as the simulated machine ran it.
type trueCycle struct {
	start, end           time.Time
	brine, refill, drain float64       // L
	moving               []detect.Span // while the machine moved water
}

// within is how long the machine moved water in a span of time.
func (c *trueCycle) within(from, to time.Time) (sum time.Duration) {
	for _, m := range c.moving {
		sum += max(0, earlier(to, m.To).Sub(later(from, m.From)))
	}
	return sum
}

// witness watches the machine itself.
type witness struct {
	running bool
	cycles  []trueCycle
}

// see takes what the machine did in the second before at. The softener's own
// water is what went in and did not come out of a tap: what the drain has more is
// brine, what it has less went into the brine tank.
func (w *witness) see(at time.Time, s plant.State) {
	if s.Regenerating && !w.running {
		w.cycles = append(w.cycles, trueCycle{start: at})
	}
	w.running = s.Regenerating
	if !w.running {
		return
	}
	c := &w.cycles[len(w.cycles)-1]
	c.end = at
	c.drain += s.DrainFlow / 60
	moved := s.DrainFlow - (s.ServiceFlow - s.SoftFlow)
	c.brine += max(0, moved) / 60
	c.refill += max(0, -moved) / 60
	if s.DrainFlow > 0 || moved != 0 {
		c.move(at)
	}
}

// move notes that water moved in the second before at.
func (c *trueCycle) move(at time.Time) {
	before := at.Add(-time.Second)
	if n := len(c.moving); n > 0 && c.moving[n-1].To.Equal(before) {
		c.moving[n-1].To = at
		return
	}
	c.moving = append(c.moving, detect.Span{From: before, To: at})
}

// recogniserStart is in spring: gardens begin to be watered, clocks change.
var recogniserStart = time.Date(2025, 3, 20, 0, 0, 0, 0, time.UTC)

// recogniserMargin is how long before the end of a run a regeneration must have ended to
// be asked for: the recogniser waits that long to be sure.
const recogniserMargin = 8 * time.Hour

// recogniserHome makes home i; three in ten live as is hard to judge: night
// showers, garden watering, shift work.
func recogniserHome(i int, every time.Duration, faults []fault.Fault) (*simulator.Home, error) {
	people := household.Ordinary()
	if i%10 >= 7 {
		people = household.Difficult()
	}
	var all sensor.Set
	for _, k := range recogniserKits {
		all |= k.signals
	}
	profile, err := simulator.Profile(recogniserSeed, i, simulator.Profiles{Signals: all, Population: people})
	if err != nil {
		return nil, err
	}
	return simulator.NewHome(profile, simulator.Options{Seed: recogniserSeed, Index: i, Start: recogniserStart, Days: *recogniserDays,
		Sensors: sensor.Fitting{Signals: all, Interval: every}, Population: people, Faults: faults})
}

// seenBy is the profile as a household with only this kit would write it.
func seenBy(h detect.Home, k kit) detect.Home {
	for _, m := range []struct {
		meter **detect.Meter
		total detect.Signal
	}{{&h.Meters.Inlet, detect.InletVolume}, {&h.Meters.Service, detect.ServiceVolume}, {&h.Meters.Drain, detect.DrainVolume}} {
		if !k.signals.Has(m.total) {
			*m.meter = nil
		}
	}
	return h
}

// listener is an engine that hears a home through a kit of sensors, and through an
// ear that may change or lose what they say; nil for one that hears all.
type listener struct {
	kit     kit
	ear     ear
	unheard []detect.Span // while the ear hears nothing
}

// ear is what becomes of a sample on its way; ok is false where it is lost.
type ear func(sensor.Sample) (s sensor.Sample, ok bool)

func recogniseHome(i int, every time.Duration) ([]recognised, error) {
	home, err := recogniserHome(i, every, nil)
	if err != nil {
		return nil, err
	}
	listeners := make([]listener, len(recogniserKits))
	for k := range listeners {
		listeners[k].kit = recogniserKits[k]
	}
	return hearHome(fmt.Sprintf("home %d", i), home, listeners), nil
}

// hearHome lets a home live while listeners hear it, and says how each did.
func hearHome(name string, home *simulator.Home, listeners []listener) []recognised {
	id := home.Profile().ID
	engines := make([]*engine.Engine, len(listeners))
	for k := range engines {
		engines[k] = engine.New([]detect.Home{seenBy(home.Profile(), listeners[k].kit)}, engine.Options{})
	}
	var w witness
	var samples []sensor.Sample
	end := recogniserStart.AddDate(0, 0, *recogniserDays)
	for at := recogniserStart.Add(time.Second); !at.After(end); at = at.Add(time.Second) {
		samples = home.Advance(at.UnixMilli(), samples[:0])
		w.see(at, home.State())
		for _, s := range samples {
			for k := range engines {
				listeners[k].pass(s, id, engines[k])
			}
		}
	}
	out := make([]recognised, len(engines))
	for k, e := range engines {
		e.Flush(id)
		out[k] = compare(name, w.cycles, e.Regenerations(), listeners[k].unheard, end.Add(-recogniserMargin))
	}
	return out
}

// pass lets an engine observe a sample that its kit has and its ear lets through.
func (l *listener) pass(s sensor.Sample, home string, e *engine.Engine) {
	if !l.kit.signals.Has(s.Signal) {
		return
	}
	if l.ear != nil {
		var ok bool
		if s, ok = l.ear(s); !ok {
			return
		}
	}
	e.Observe(detect.Reading{Home: home, Signal: s.Signal, Time: time.UnixMilli(s.Measured).UTC(), Value: s.Value})
}

// compare counts what was found. A record means a regeneration if it covers at
// least half of the time in which the machine moved water (brine made ahead
// stands for hours, and nothing shows meanwhile) and lies at least half inside it.
func compare(name string, cycles []trueCycle, records []engine.HomeRecord, unheard []detect.Span, until time.Time) recognised {
	r := recognised{years: until.Sub(recogniserStart).Hours() / 24 / 365.25}
	used := make([]bool, len(records))
	for _, c := range cycles {
		i := claim(c, records, used)
		switch {
		case c.end.After(until):
			continue
		case c.mostly(unheard):
			r.unheard++
			continue
		}
		r.truths++
		if i < 0 {
			r.missedText = append(r.missedText, fmt.Sprintf("%s: missed %s to %s, brine %.1f L", name, c.start.Format(time.DateTime), c.end.Format(time.TimeOnly), c.brine))
			continue
		}
		r.found++
		r.measure(c, &records[i].Record)
	}
	for i, rec := range records {
		switch {
		case used[i] || !rec.Record.Start.Before(until):
		case inside(&rec.Record, cycles):
			r.partly++
		default:
			r.falses++
			r.falsesText = append(r.falsesText, fmt.Sprintf("%s: false %s to %s, confidence %.2f", name, rec.Record.Start.UTC().Format(time.DateTime),
				rec.Record.End.UTC().Format(time.TimeOnly), rec.Record.Confidence))
		}
	}
	return r
}

// mostly says whether more than two fifths of the time in which the machine moved
// water lie in some spans.
func (c *trueCycle) mostly(spans []detect.Span) bool {
	var sum time.Duration
	for _, s := range spans {
		sum += c.within(s.From, s.To)
	}
	return 5*sum > 2*c.within(c.start, c.end)
}

// inside says whether at least half of a record lies in a regeneration.
func inside(rec *regeneration.Record, cycles []trueCycle) bool {
	for _, c := range cycles {
		if 2*earlier(c.end, rec.End).Sub(later(c.start, rec.Start)) >= rec.End.Sub(rec.Start) {
			return true
		}
	}
	return false
}

// claim is the record that means a regeneration, -1 for none.
func claim(c trueCycle, records []engine.HomeRecord, used []bool) int {
	for i := range records {
		rec := &records[i].Record
		shared := earlier(c.end, rec.End).Sub(later(c.start, rec.Start))
		if !used[i] && 2*c.within(rec.Start, rec.End) >= c.within(c.start, c.end) && 2*shared >= rec.End.Sub(rec.Start) {
			used[i] = true
			return i
		}
	}
	return -1
}

func (r *recognised) measure(c trueCycle, rec *regeneration.Record) {
	r.start = append(r.start, rec.Start.Sub(c.start).Abs().Minutes())
	for _, pair := range []struct {
		value, truth float64
		to           *[]float64
	}{{rec.BrineLitres, c.brine, &r.brine}, {rec.DrainLitres, c.drain, &r.drain}, {rec.RefillLitres, c.refill, &r.refill}} {
		if e, known := off(pair.value, pair.truth); known {
			*pair.to = append(*pair.to, e)
		}
	}
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}
