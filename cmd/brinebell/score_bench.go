package main

import (
	"cmp"
	"context"
	"runtime"
	"slices"
	"time"

	"brinebell/detect"
	"brinebell/detect/engine"
	"brinebell/simulator"
)

// bench deals the homes to as many judges as there are processors, a home
// always to the same one: its alerts then do not depend on their number.
type bench struct {
	judges []*judge
	of     map[string]*judge
}

// judge is one engine with its homes. Only its goroutine touches it, but for
// filling, which is the dealer's, and everything once all have ended.
type judge struct {
	engine  *engine.Engine
	homes   []string
	wait    map[string]time.Duration // for how long a home's readings are held back, to be put in order
	filling []simulator.Arrival
	hands   chan []simulator.Arrival
	waiting map[string][]held // by home
	looked  time.Time         // when waiting was last gone through
	alerts  map[string]detect.Alert
	late    int64
}

// held is a reading held back, in little room.
type held struct {
	at     int64 // Unix ms
	value  float64
	signal detect.Signal
}

// lookEvery is how often readings held back are gone through.
const lookEvery = 6 * time.Hour

// handful is how many readings are handed over at once.
const handful = 4096

func newBench(homes []detect.Home, wait map[string]time.Duration) *bench {
	b := &bench{of: map[string]*judge{}}
	shares := make([][]detect.Home, min(runtime.GOMAXPROCS(0), len(homes)))
	for i, h := range homes {
		shares[i%len(shares)] = append(shares[i%len(shares)], h)
	}
	for _, share := range shares {
		j := &judge{engine: engine.New(share, engine.Options{}), wait: wait, hands: make(chan []simulator.Arrival, 4),
			waiting: map[string][]held{}, alerts: map[string]detect.Alert{}}
		for _, h := range share {
			j.homes = append(j.homes, h.ID)
			b.of[h.ID] = j
		}
		b.judges = append(b.judges, j)
	}
	return b
}

func (b *bench) deal(ctx context.Context, a simulator.Arrival) error {
	j := b.of[a.Home]
	j.filling = append(j.filling, a)
	if len(j.filling) < handful {
		return nil
	}
	return j.hand(ctx)
}

func (j *judge) hand(ctx context.Context) error {
	full := j.filling
	j.filling = make([]simulator.Arrival, 0, handful)
	select {
	case j.hands <- full:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// end hands out what is left and lets the judges finish.
func (b *bench) end(ctx context.Context) error {
	var err error
	for _, j := range b.judges {
		if err == nil {
			err = j.hand(ctx)
		}
		close(j.hands)
	}
	return err
}

// sit judges until there is no more.
func (j *judge) sit(ctx context.Context) error {
	for hand := range j.hands {
		if err := ctx.Err(); err != nil {
			return err
		}
		for _, a := range hand {
			j.take(a)
		}
		j.gather()
	}
	for _, id := range j.homes {
		j.release(id, time.Time{})
		j.engine.Flush(id)
	}
	j.gather()
	return nil
}

func (j *judge) take(a simulator.Arrival) {
	if j.wait[a.Home] == 0 {
		j.observe(a.Reading)
		return
	}
	j.waiting[a.Home] = append(j.waiting[a.Home], held{a.Time.UnixMilli(), a.Value, a.Signal})
	if a.Arrived.Sub(j.looked) < lookEvery {
		return
	}
	j.looked = a.Arrived
	for _, id := range j.homes {
		j.release(id, a.Arrived.Add(-j.wait[id]))
	}
}

// release judges a home's readings up to an instant, or all of them when it is
// zero, in the order of measurement.
func (j *judge) release(id string, until time.Time) {
	all := j.waiting[id]
	slices.SortStableFunc(all, func(a, b held) int { return cmp.Compare(a.at, b.at) })
	n := len(all)
	if !until.IsZero() {
		n, _ = slices.BinarySearchFunc(all, until.UnixMilli(), func(h held, at int64) int { return cmp.Compare(h.at, at) })
	}
	for _, h := range all[:n] {
		j.observe(detect.Reading{Home: id, Signal: h.signal, Time: time.UnixMilli(h.at).UTC(), Value: h.value})
	}
	j.waiting[id] = append(all[:0], all[n:]...)
}

func (j *judge) observe(r detect.Reading) {
	if j.engine.Observe(r) == engine.Late {
		j.late++
	}
}

func (j *judge) gather() {
	for _, a := range j.engine.Take() {
		j.alerts[a.ID] = a
	}
	j.engine.Regenerations() // lets go of them
}

// alerts are those of all judges in the order of raising.
func (b *bench) alerts() []detect.Alert {
	var all []detect.Alert
	for _, j := range b.judges {
		for _, a := range j.alerts {
			all = append(all, a)
		}
	}
	slices.SortFunc(all, func(a, b detect.Alert) int {
		return cmp.Or(a.Raised.Compare(b.Raised), cmp.Compare(a.Home, b.Home), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.ID, b.ID))
	})
	return all
}

func (b *bench) tooLate() int64 {
	n := int64(0)
	for _, j := range b.judges {
		n += j.late
	}
	return n
}
