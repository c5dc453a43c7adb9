package trait

import (
	"math"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/regeneration"
)

const (
	// sure is the confidence below which a regeneration is not looked at.
	sure = 0.8
	// running is the flow to the drain before a regeneration began, L/min, from which
	// on nobody knows what of its water was the regeneration's.
	running = 0.1
	// late is by how many regenerations learning lags behind.
	late = 2
	// atOnce is how many regenerations at the beginning are learnt from at once.
	atOnce = 2
	// strange is the deviation of a logarithm beyond which a value does not
	// teach the usual, whatever is open at the home.
	strange = 0.5
	// settled is how many regenerations make a usual that a shift no longer moves, and
	// shifted of how many standard deviations at this home: a fault that began so
	// slightly that nothing was found would be taken for usual before it is.
	settled, shifted = 4, 1.5
	// vague is the standard deviation from which a trait tells nothing at this home.
	vague = 0.3
	// fresh is the weight of the newest regeneration in what the last ones were
	// like: a fault that grows shows, one odd cycle does not decide.
	fresh = 0.75
	// leastShare is the smallest share told: what is less is nothing.
	leastShare = 0.01
)

// SaltHigh is the key of the height of the salt's top over that of the tank. It
// has no usual: salt comes and goes.
const SaltHigh = "salt_high_share"

// Readings are what sensors beside the regeneration show when it ends, NaN without one.
type Readings struct {
	SaltTop float64 // height of the salt, mm
	Raw     float64 // hardness before the softener, mg/L
}

// Book keeps one home's traits. The zero value is a home that nothing is known of.
// All is exported for snapshots.
type Book struct {
	Usual  [kinds]Usual
	Last   [kinds]float64 // off the usual, the newest weighing most
	Seen   [kinds]bool
	Queue  [][kinds]float64 // values yet to be learnt from, the oldest first
	Number int              // regenerations looked at
	Start  time.Time        // of the last of them
	Before time.Time        // of the one before it
	Run    Run              // of soft water since the last regeneration
	Top    float64          // of the salt at the regeneration before, mm; 0 none
	High   float64          // the same over the tank's height
}

// Regeneration takes in a finished one and how it was booked. quiet says that
// nothing is open at the home that could have touched it.
func (b *Book) Regeneration(h *detect.Home, r *regeneration.Record, entry *books.Entry, now Readings, quiet bool) {
	b.Run.end()
	if r.Confidence < sure || r.Ending != regeneration.Completed || r.RunningDrain > running {
		return
	}
	b.Number++
	b.Before, b.Start = b.Start, r.Start
	value, should := measure(h, r, entry), programme(h)
	value[SaltSunk], should[SaltSunk] = b.sunk(h, now.SaltTop), 1
	value[Raw] = now.Raw
	for k := range kinds {
		if !k.linear() {
			value[k], should[k] = math.Log(math.Max(value[k], 1e-3)), math.Log(should[k])
		}
		if k == SaltSunk {
			b.note(k, value[k])
			continue
		}
		b.note(k, b.Usual[k].off(value[k], should[k]))
	}
	if !quiet {
		b.Queue = nil
		return
	}
	if b.Queue = append(b.Queue, value); len(b.Queue) > late || b.Number <= atOnce {
		b.learn(b.Queue[0], should)
		b.Queue = append(b.Queue[:0], b.Queue[1:]...)
	}
}

func (b *Book) note(k Kind, off float64) {
	switch {
	case math.IsNaN(off):
		return
	case !b.Seen[k]:
		b.Last[k], b.Seen[k] = off, true
	default:
		b.Last[k] += fresh * (off - b.Last[k])
	}
}

func (b *Book) learn(value, should [kinds]float64) {
	for k := range kinds {
		u := &b.Usual[k]
		switch off := u.off(value[k], should[k]); {
		case math.Abs(off) > strange:
		case u.N >= settled && math.Abs(b.Last[k]) > shifted*u.scatter():
		default:
			u.learn(value[k])
		}
	}
}

// sunk is how far the salt's top sank since the regeneration before, over what a
// dose of salt takes off the bed; NaN when nobody sees it or salt was filled in.
func (b *Book) sunk(h *detect.Home, top float64) float64 {
	before := b.Top
	if math.IsNaN(top) {
		b.Top, b.High = 0, 0
		return math.NaN()
	}
	b.Top, b.High = math.Max(top, 1), math.Max(top/h.BrineTank.Height, leastShare)
	const filled = 15.0 // mm higher: somebody brought salt
	if before == 0 || top > before+filled {
		return math.NaN()
	}
	return math.Max((before-top)/doseFall(h), leastShare)
}

// Since is the evidence on a trouble that began at onset, as shares of the usual by
// key: what regenerations since were like, and the water between them. What was
// before says nothing of it. It is empty before the second regeneration ever.
func (b *Book) Since(onset time.Time) detect.Evidence {
	began := onset.Add(-time.Hour) // a detector's onset may be a regeneration's own
	since, whole := !b.Start.Before(began), !b.Before.Before(began)
	e := detect.Evidence{}
	if b.Number < 2 {
		return e
	}
	for k := range kinds {
		if b.Seen[k] && (k.betweenTwo() || b.Usual[k].scatter() < vague) && (whole || since && !k.betweenTwo()) {
			e[keys[k]] = b.told(k)
		}
	}
	b.Run.put(e, since, whole)
	if b.High > 0 && since {
		e[SaltHigh] = math.Round(b.High*100) / 100
	}
	return e
}

func (b *Book) told(k Kind) float64 {
	v := b.Last[k]
	if !k.linear() {
		v = math.Exp(v)
	}
	return math.Round(math.Max(v, leastShare)*1000) / 1000
}

// Evidence is all that is known, whenever it was.
func (b *Book) Evidence() detect.Evidence { return b.Since(time.Time{}) }
