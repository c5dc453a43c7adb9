package judge

import (
	"context"
	"hash/fnv"
	"time"

	"brinebell/collector/state"
	"brinebell/detect"
	"brinebell/detect/engine"
)

// desk is where one home is judged. The shard's mu guards it.
type desk struct {
	judge   *Judge
	home    detect.Home
	engine  Engine         // nil while it sleeps: see catchUp
	resume  time.Time      // while it sleeps: watermark of the snapshot it will begin with
	snapped time.Time      // watermark of the newest snapshot
	unsaved state.Progress // what came of the readings since the last save
	late    lateness
	busy    bool // it is begun or judged again, by one goroutine
	// meanwhile are the newest readings while it is, oldest the time of the oldest
	// that came; see judgeAgain.
	meanwhile []detect.Reading
	oldest    time.Time
	outcomes  [engine.Implausible + 1]int // since the last settling
}

// lateness is what is known of a home's late readings.
type lateness struct {
	since       time.Time // the oldest of them; zero when there is none
	noted       time.Time // since as it is on disk
	first, last time.Time // when they came, by the machine's clock
}

// add notes a late reading.
func (l *lateness) add(at, now time.Time) {
	if l.since.IsZero() {
		l.first = now
	}
	if l.since.IsZero() || at.Before(l.since) {
		l.since = at
	}
	l.last = now
}

// due says whether it is time for the re-run.
func (l *lateness) due(now time.Time, opts Options) bool {
	return !l.since.IsZero() && (now.Sub(l.last) >= opts.RerunPause || now.Sub(l.first) >= opts.RerunMost)
}

// asleep says whether the desk has yet to begin.
func (d *desk) asleep() bool { return d.engine == nil }

// observe hands a reading to the engine. A desk that sleeps will find it in the
// store, unless it is older than what it begins with.
func (d *desk) observe(r detect.Reading) {
	if d.busy {
		d.keep(r)
	}
	if d.asleep() {
		if r.Time.Before(d.resume) {
			d.late.add(r.Time, time.Now())
		}
		return
	}
	outcome := d.engine.Observe(r)
	d.outcomes[outcome]++
	if outcome == engine.Late {
		d.late.add(r.Time, time.Now())
	}
}

// keep keeps a reading for the judging that is under way.
func (d *desk) keep(r detect.Reading) {
	if len(d.meanwhile) < maxMeanwhile {
		d.meanwhile = append(d.meanwhile, r)
	}
	if d.oldest.IsZero() || r.Time.Before(d.oldest) {
		d.oldest = r.Time
	}
}

// settle follows some calls of observe: it notes late readings and saves what
// came of the others. The error says that late readings could not be noted.
func (d *desk) settle(ctx context.Context) error {
	for o := range d.outcomes {
		if d.outcomes[o] > 0 {
			d.judge.metrics.judged.WithLabelValues(engine.Outcome(o).String()).Add(float64(d.outcomes[o]))
			d.outcomes[o] = 0
		}
	}
	if !d.late.since.IsZero() && (d.late.noted.IsZero() || d.late.since.Before(d.late.noted)) {
		if err := d.judge.opts.State.WantRerun(ctx, d.home.ID, d.late.since); err != nil {
			return err
		}
		d.late.noted = d.late.since
	}
	if d.asleep() {
		return nil
	}
	d.collect(&d.unsaved, false)
	if err := d.save(ctx); err != nil {
		// Nothing is lost, as it follows from readings that are stored; it is
		// tried again with the next ones.
		d.judge.opts.Logger.Error("alerts and snapshots could not be saved", "home", d.home.ID, "error", err)
	}
	return nil
}

// collect adds to p what the engine has come to, with a snapshot if one is due
// or wanted.
func (d *desk) collect(p *state.Progress, snapshot bool) {
	p.Alerts = merge(p.Alerts, d.engine.Take())
	for _, r := range d.engine.Regenerations() {
		p.Regenerations = append(p.Regenerations, state.Regeneration{Record: r.Record, Entry: &r.Entry})
	}
	watermark := d.engine.Watermark(d.home.ID)
	if watermark.IsZero() || watermark.Equal(d.snapped) {
		return
	}
	if d.snapped.IsZero() && !snapshot {
		d.snapped = watermark // the first is due a while after the first reading
		return
	}
	if !snapshot && d.turn(watermark) == d.turn(d.snapped) {
		return
	}
	data, err := d.engine.Snapshot(d.home.ID)
	if err != nil {
		d.judge.opts.Logger.Error("no snapshot", "home", d.home.ID, "error", err)
		return
	}
	p.Snapshots = thin(append(p.Snapshots, state.Snapshot{Watermark: watermark, Data: seal(data)}))
	d.snapped = watermark
}

// turn numbers the spans of SnapshotEvery, at the end of which a snapshot is
// due. They begin at a moment of the home's own, or all homes would be saved at
// once.
func (d *desk) turn(t time.Time) int64 {
	every := d.judge.opts.SnapshotEvery
	h := fnv.New64a()
	h.Write([]byte(d.home.ID))                        // #nosec G104 -- a hash never fails to take bytes
	phase := time.Duration(h.Sum64() % uint64(every)) // #nosec G115 -- an even spread is all that is asked of it
	return t.Add(phase).UnixNano() / int64(every)
}

// merge keeps the newest state of each alert, in order of its first change.
func merge(alerts, newer []detect.Alert) []detect.Alert {
next:
	for _, a := range newer {
		for i := range alerts {
			if alerts[i].ID == a.ID {
				alerts[i] = a
				continue next
			}
		}
		alerts = append(alerts, a)
	}
	return alerts
}

// maxUnsaved bounds the snapshots of a long re-run, or of a time in which
// nothing can be saved.
const maxUnsaved = 32

// thin drops every second snapshot but the newest when there are many.
func thin(snapshots []state.Snapshot) []state.Snapshot {
	if len(snapshots) <= maxUnsaved {
		return snapshots
	}
	kept := snapshots[:0]
	for i, s := range snapshots {
		if i%2 == 1 || i == len(snapshots)-1 {
			kept = append(kept, s)
		}
	}
	return kept
}

// save saves what is unsaved, and keeps it if that fails.
func (d *desk) save(ctx context.Context) error {
	p := d.unsaved
	if len(p.Alerts)+len(p.Regenerations)+len(p.Snapshots) == 0 && p.Rerun == nil {
		return nil
	}
	p.Home = d.home.ID
	news, err := d.judge.opts.State.Save(ctx, p)
	if err != nil {
		d.judge.metrics.saves.WithLabelValues("error").Inc()
		return err
	}
	d.judge.metrics.saves.WithLabelValues("ok").Inc()
	for _, a := range news {
		d.judge.metrics.alerts.WithLabelValues(string(a.Kind)).Inc()
	}
	d.unsaved = state.Progress{}
	if len(news) > 0 {
		d.judge.opts.Changed(news)
	}
	return nil
}

// conclude saves everything, with a snapshot, at the end.
func (d *desk) conclude(ctx context.Context) error {
	if d.asleep() {
		return nil
	}
	d.collect(&d.unsaved, true)
	return d.save(ctx)
}
