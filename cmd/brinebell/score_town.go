package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"golang.org/x/sync/errgroup"

	"brinebell/detect"
	"brinebell/detect/score"
	"brinebell/simulator"
	"brinebell/simulator/corpus"
)

// scoreTown simulates and judges in one pass. No more is kept than the alerts
// and, where readings come late, some days of them.
func scoreTown(ctx context.Context, s streams, run townRun) (*score.Input, error) {
	town, err := run.build()
	if err != nil {
		return nil, err
	}
	bench, err := judgeTown(ctx, s, run, town)
	if err != nil {
		return nil, err
	}
	in := &score.Input{Alerts: bench.alerts()}
	if n := bench.tooLate(); n > 0 {
		fmt.Fprintf(s.err, "%s too late to be put in order and left out\n", counted(n, "reading", "came", "came"))
	}
	for _, t := range town.Truth() {
		in.Episodes = append(in.Episodes, score.Episode(t))
	}
	signals := signalsOf(run.spec)
	for _, h := range town.Homes() {
		in.Exposures = append(in.Exposures, score.Exposure{Home: h.ID, From: run.spec.Start.Time, To: run.end()})
		in.Sights = append(in.Sights, score.Sight{Profile: h, Signals: signals})
	}
	return in, nil
}

func signalsOf(s corpus.Spec) []detect.Signal {
	var all []detect.Signal
	for x := range detect.NumSignals {
		if s.Signals.Has(x) {
			all = append(all, x)
		}
	}
	return all
}

// outagesWaited is how many mean outages a reading may be late: of outages of
// random length one in 22,000 is longer. The collector runs a home anew for late
// readings; here all wait so long and are judged in the order of measurement,
// with the same alerts.
const outagesWaited = 10

// astray is how late a reading may come beside others of a home with a faulty
// sensor: its clock may have lost the time of day, and readings from before it
// was set right then seem to come from later.
const astray = 24 * time.Hour

// lateBy is how late readings come, by home. Homes that are not named have
// readings that come in order.
func lateBy(s corpus.Spec, town *simulator.Town) map[string]time.Duration {
	wait := map[string]time.Duration{}
	const repeated = time.Hour // more than enough for a reading sent twice
	general := outagesWaited * time.Duration(s.Sensors.Outage)
	if s.Sensors.Outages == 0 {
		general = 0
	}
	if s.Sensors.Twice > 0 {
		general = max(general, repeated)
	}
	if general > 0 {
		for _, h := range town.Homes() {
			wait[h.ID] = general
		}
	}
	for _, t := range town.Truth() {
		if t.Fault == detect.SensorFault {
			wait[t.Home] = max(general, astray)
		}
	}
	return wait
}

func judgeTown(ctx context.Context, s streams, run townRun, town *simulator.Town) (*bench, error) {
	g, ctx := errgroup.WithContext(ctx)
	b := newBench(town.Homes(), lateBy(run.spec, town))
	for _, j := range b.judges {
		g.Go(func() error { return j.sit(ctx) })
	}
	line := newMeter(s.err)
	n := int64(0)
	g.Go(func() error {
		err := town.Run(ctx, func(a simulator.Arrival) error {
			if n++; n%progressEvery == 0 {
				run.show(line, n, a.Arrived)
			}
			return b.deal(ctx, a)
		})
		return errors.Join(err, b.end(ctx))
	})
	err := g.Wait()
	line.clear()
	return b, err
}
