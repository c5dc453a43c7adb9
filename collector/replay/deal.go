package replay

import (
	"sync"
	"sync/atomic"

	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/engine"
)

// handful is how many readings are handed to an engine at once: enough that
// the hand-over costs nothing beside judging them.
const handful = 4096

// dealer deals readings to engines, a home always to the same one.
type dealer struct {
	streaming bool // readings come in order: a late one is disorder
	disorder  atomic.Bool
	tables    []*table
	of        map[string]*table // by home
	result    Result
	wait      sync.WaitGroup
	spare     chan []detect.Reading
}

// table is one engine with what it found. Only its goroutine touches the
// engine, the alerts and the counts.
type table struct {
	engine        *engine.Engine
	homes         []string
	filling       []detect.Reading // the dealer's
	hands         chan []detect.Reading
	alerts        map[string]detect.Alert
	regenerations []engine.HomeRecord
	refused       map[engine.Outcome]int64
}

func newDealer(o Options, streaming bool) *dealer {
	d := &dealer{streaming: streaming, of: map[string]*table{}}
	d.result = Result{Books: map[string]books.Books{}, Unknown: map[string]int64{}, Refused: map[engine.Outcome]int64{}, Sorted: !streaming}
	d.spare = make(chan []detect.Reading, 16)
	shares := make([][]detect.Home, min(o.Engines, len(o.Homes)))
	for i, h := range o.Homes {
		shares[i%len(shares)] = append(shares[i%len(shares)], h)
	}
	for _, homes := range shares {
		t := &table{engine: engine.New(homes, engine.Options{}), hands: make(chan []detect.Reading, 4),
			alerts: map[string]detect.Alert{}, refused: map[engine.Outcome]int64{}}
		t.filling = d.empty()
		for _, h := range homes {
			t.homes = append(t.homes, h.ID)
			d.of[h.ID] = t
		}
		d.tables = append(d.tables, t)
		d.wait.Go(func() { d.play(t) })
	}
	return d
}

func (d *dealer) reading(r detect.Reading) {
	d.result.Readings++
	t, ok := d.of[r.Home]
	if !ok {
		d.result.Unknown[r.Home]++
		return
	}
	t.filling = append(t.filling, r)
	if len(t.filling) == handful {
		t.hands <- t.filling
		t.filling = d.empty()
	}
}

// empty is a hand to fill.
func (d *dealer) empty() []detect.Reading {
	select {
	case hand := <-d.spare:
		return hand
	default:
		return make([]detect.Reading, 0, handful)
	}
}

func (d *dealer) play(t *table) {
	for hand := range t.hands {
		for _, r := range hand {
			o := t.engine.Observe(r)
			if o == engine.Accepted {
				continue
			}
			t.refused[o]++
			if o == engine.Late && d.streaming {
				d.disorder.Store(true)
			}
		}
		t.gather()
		select {
		case d.spare <- hand[:0]:
		default:
		}
	}
	for _, id := range t.homes {
		t.engine.Flush(id)
	}
	t.gather()
}

func (t *table) gather() {
	for _, a := range t.engine.Take() {
		t.alerts[a.ID] = a
	}
	t.regenerations = append(t.regenerations, t.engine.Regenerations()...)
}

// finish lets the engines play out and gathers what they found.
func (d *dealer) finish() *Result {
	for _, t := range d.tables {
		t.hands <- t.filling
		close(t.hands)
	}
	d.wait.Wait()
	for _, t := range d.tables {
		for _, a := range t.alerts {
			d.result.Alerts = append(d.result.Alerts, a)
		}
		d.result.Regenerations = append(d.result.Regenerations, t.regenerations...)
		for _, id := range t.homes {
			d.result.Books[id], _ = t.engine.Books(id)
		}
		for o, n := range t.refused {
			d.result.Refused[o] += n
		}
	}
	return &d.result
}
