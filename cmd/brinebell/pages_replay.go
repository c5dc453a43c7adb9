package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"brinebell/collector"
	"brinebell/collector/recording"
	"brinebell/dashboards/web"
	"brinebell/detect"
	"brinebell/detect/engine"
)

// replayer replays for the pages: a recording that is sent, or days of the
// store, through an engine of its own.
type replayer struct {
	collector *collector.Collector
	busy      chan struct{} // one token: a replay takes a core, and the homes need the rest
}

var _ web.Replayer = (*replayer)(nil)

func newReplayer(c *collector.Collector) *replayer {
	return &replayer{c, make(chan struct{}, 1)}
}

// mostUploaded is how many readings a file may hold; they are sorted in memory.
const mostUploaded = 2_000_000

// unfit is an error that the reader of a page can mend.
type unfit string

func (e unfit) Error() string { return string(e) }

// Plain says that the text may be shown.
func (e unfit) Plain() string { return string(e) }

// Replay replays one recording at a time.
func (r *replayer) Replay(ctx context.Context, rec web.Recording) (web.Trace, error) {
	select {
	case r.busy <- struct{}{}:
		defer func() { <-r.busy }()
	default:
		return web.Trace{}, unfit("Another replay is running. Try again in a minute.")
	}
	if rec.File != nil {
		return r.file(ctx, rec)
	}
	if until, err := r.newest(ctx, rec.Home.ID); err != nil {
		return web.Trace{}, err
	} else if rec.To.After(until) {
		rec.To = until
	}
	if !rec.To.After(rec.From) {
		return web.Trace{}, unfit("The store holds nothing of these days.")
	}
	t := newTracer(rec)
	for day := rec.From; day.Before(rec.To); day = day.AddDate(0, 0, 1) {
		readings, err := r.day(ctx, rec.Home.ID, day, sooner(day.AddDate(0, 0, 1), rec.To))
		if err != nil {
			return web.Trace{}, err
		}
		if err := t.take(ctx, readings); err != nil {
			return web.Trace{}, err
		}
	}
	return t.end(), nil
}

func sooner(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

// newest is just after the home's newest reading.
func (r *replayer) newest(ctx context.Context, home string) (time.Time, error) {
	latest, err := r.collector.Latest(ctx, home)
	var newest time.Time
	for _, p := range latest {
		if p.Time.After(newest) {
			newest = p.Time
		}
	}
	return newest.Add(time.Millisecond), err
}

// day is a day's readings in order of time.
func (r *replayer) day(ctx context.Context, home string, from, to time.Time) ([]detect.Reading, error) {
	var out []detect.Reading
	for signal := range detect.NumSignals {
		points, err := r.collector.Recorded(ctx, home, signal, from, to)
		if err != nil {
			return nil, err
		}
		for _, p := range points {
			out = append(out, detect.Reading{Home: home, Signal: signal, Time: p.Time, Value: p.Value})
		}
	}
	sortReadings(out)
	return out, nil
}

func sortReadings(all []detect.Reading) {
	slices.SortStableFunc(all, func(a, b detect.Reading) int { return cmp.Or(a.Time.Compare(b.Time), cmp.Compare(a.Signal, b.Signal)) })
}

// file replays what was sent. A file of one home alone is taken to be of the
// home that was chosen, whatever it is called there.
func (r *replayer) file(ctx context.Context, rec web.Recording) (web.Trace, error) {
	reader, err := recording.NewReader(rec.Name, rec.File, recording.Options{})
	if err != nil {
		return web.Trace{}, unfit(fmt.Sprintf("%s: %v", rec.Name, err))
	}
	byHome := map[string][]detect.Reading{}
	for n := 0; ; n++ {
		reading, err := reader.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return web.Trace{}, unfit(fmt.Sprintf("%s cannot be read any further: %v", rec.Name, err))
		}
		if n == mostUploaded {
			return web.Trace{}, unfit(fmt.Sprintf("%s holds more than %d readings. Replay it with the command instead.", rec.Name, mostUploaded))
		}
		byHome[reading.Home] = append(byHome[reading.Home], reading)
	}
	readings := byHome[rec.Home.ID]
	if len(byHome) == 1 {
		for _, only := range byHome {
			readings = only
		}
	}
	if len(readings) == 0 {
		return web.Trace{}, unfit(fmt.Sprintf("%s holds no reading of %s.", rec.Name, rec.Home.ID))
	}
	return r.readings(ctx, rec, readings, reader.Bad())
}

func (r *replayer) readings(ctx context.Context, rec web.Recording, readings []detect.Reading, bad recording.BadLines) (web.Trace, error) {
	sortReadings(readings)
	for i := range readings {
		readings[i].Home = rec.Home.ID
	}
	rec.From, rec.To = readings[0].Time, readings[len(readings)-1].Time.Add(time.Millisecond)
	t := newTracer(rec)
	if err := t.take(ctx, readings); err != nil {
		return web.Trace{}, err
	}
	trace := t.end()
	for _, line := range bad.First[:min(len(bad.First), badShown)] {
		trace.Bad = append(trace.Bad, line.Error())
	}
	return trace, nil
}

// badShown is how many bad lines a page names.
const badShown = 10

// tracer runs readings through an engine and keeps what the page shows of it.
type tracer struct {
	rec     web.Recording
	engine  *engine.Engine
	trace   web.Trace
	alerts  map[string]int // places in trace.Alerts
	signals map[detect.Signal]*web.SignalTrace
	sums    map[detect.Signal]int // readings in the last point of each signal
	states  *states
	step    time.Duration
	next    time.Time // at which the detector is looked into
}

func newTracer(rec web.Recording) *tracer {
	step := max(rec.To.Sub(rec.From)/time.Duration(max(1, rec.Parts)), time.Minute)
	return &tracer{rec: rec, engine: engine.New([]detect.Home{rec.Home}, engine.Options{}), trace: web.Trace{From: rec.From, To: rec.To, Watches: watchNames()},
		alerts: map[string]int{}, signals: map[detect.Signal]*web.SignalTrace{}, sums: map[detect.Signal]int{}, states: newStates(rec.Watch), step: step, next: rec.From.Add(step)}
}

func (t *tracer) take(ctx context.Context, readings []detect.Reading) error {
	for i, r := range readings {
		if i%4096 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		if !r.Time.Before(t.next) {
			if err := t.look(r.Time); err != nil {
				return err
			}
		}
		t.engine.Observe(r)
		t.draw(r)
		t.trace.Readings++
	}
	t.hear()
	return nil
}

// look looks into the detector, at most once a step.
func (t *tracer) look(now time.Time) error {
	t.next = t.rec.From.Add(now.Sub(t.rec.From)/t.step*t.step + t.step)
	if t.rec.Watch == "" {
		return nil
	}
	snapshot, err := t.engine.Snapshot(t.rec.Home.ID)
	if err != nil {
		return err
	}
	return t.states.look(now, snapshot)
}

// draw puts a reading into its signal's trace.
func (t *tracer) draw(r detect.Reading) {
	s := t.signals[r.Signal]
	if s == nil {
		s = &web.SignalTrace{Signal: r.Signal}
		t.signals[r.Signal] = s
	}
	at := t.rec.From.Add(r.Time.Sub(t.rec.From) / t.step * t.step)
	if last := len(s.Points) - 1; last < 0 || !s.Points[last].Time.Equal(at) {
		s.Points, t.sums[r.Signal] = append(s.Points, web.Point{Time: at, Min: r.Value, Max: r.Value}), 0
	}
	p := &s.Points[len(s.Points)-1]
	n := float64(t.sums[r.Signal])
	p.Min, p.Max, p.Mean = min(p.Min, r.Value), max(p.Max, r.Value), (p.Mean*n+r.Value)/(n+1)
	t.sums[r.Signal]++
}

// hear takes the alerts as they stand.
func (t *tracer) hear() {
	for _, a := range t.engine.Take() {
		i, known := t.alerts[a.ID]
		if !known {
			i = len(t.trace.Alerts)
			t.alerts[a.ID], t.trace.Alerts = i, append(t.trace.Alerts, a)
		}
		t.trace.Alerts[i] = a
	}
	for _, r := range t.engine.Regenerations() {
		t.trace.Regenerations = append(t.trace.Regenerations, web.Regeneration{Record: r.Record, Entry: &r.Entry})
	}
}

func (t *tracer) end() web.Trace {
	t.engine.Flush(t.rec.Home.ID)
	t.hear()
	for signal := range detect.NumSignals {
		if s := t.signals[signal]; s != nil {
			t.trace.Signals = append(t.trace.Signals, *s)
		}
	}
	t.trace.States = t.states.traces()
	return t.trace
}
