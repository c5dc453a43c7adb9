package series

import "math"

// Limits of what a household meter can have measured.
const (
	// maxFlow is more than any household main delivers, in L/min; a step that
	// needs more is a glitch, not water. A 25 mm meter's overload flow is
	// 131 L/min (ISO 4064: Q3 6.3 m3/h, Q4/Q3 1.25).
	maxFlow = 250.0
	// spreadLimit is the longest interval, in seconds, over which an increment
	// is spread evenly. Longer ones say how much, but not when.
	spreadLimit = 15 * 60
	// silentChances is how many readings must all differ from their
	// predecessor before a meter is taken to report only when it moves.
	silentChances = 60
	// stepsToTrust is how many increments show a meter's own pulse.
	stepsToTrust = 20
)

// Passage is what one reading says about the span since the one before it.
type Passage struct {
	From, To int64   // Unix ms, half-open (From, To]
	Litres   float64 // that passed in it
	Known    bool    // false: water may or may not have passed
	// DryUntil lies in the span when the meter is known to have stood still up
	// to it; the litres passed after it. Equal to From otherwise.
	DryUntil int64
}

// Meter turns one pipe's readings, rates or totals, into passages. Totals are
// believed over rates where a sensor sends both. Fields are exported for
// snapshots.
type Meter struct {
	At       int64   // of the last reading, Unix ms; 0 before the first
	Total    float64 // last total
	TotalAt  int64   // of the last total; 0 when there was none
	Flow     float64 // last rate, L/min
	Interval float64 // median seconds between readings, tracked
	Step     float64 // smallest increment seen, L: the pulse
	Steps    int32   // increments seen, up to stepsToTrust
	Same     int32   // readings that did not move
	Moved    int32   // readings that did, up to silentChances
}

// Pulse is the meter's resolution in litres: as observed once it has moved
// often enough, before that as the profile says.
func (m *Meter) Pulse(profile float64) float64 {
	if m.Steps >= stepsToTrust {
		return m.Step
	}
	return profile
}

// onlyOnChange says whether the sensor is silent while nothing flows.
func (m *Meter) onlyOnChange() bool { return m.Same == 0 && m.Moved >= silentChances }

// Rate takes a flow reading in L/min, which holds for the time since the
// reading before it. Over a longer silence it holds for one interval; what lies
// before that is dry when the sensor had last said so and speaks up within
// spreadLimit, or only ever speaks when it moves.
func (m *Meter) Rate(at int64, flow float64) (Passage, bool) {
	if m.TotalAt != 0 && at-m.TotalAt < 3600_000 {
		return Passage{}, false
	}
	from, wasDry := m.At, m.Flow == 0
	m.clock(at)
	m.Flow = flow
	if from == 0 {
		return Passage{}, false
	}
	p := Passage{From: from, To: at, DryUntil: from}
	if flow < 0 || flow > maxFlow {
		return p, true
	}
	span := m.hold(at - from)
	p.DryUntil, p.Litres, p.Known = at-span, flow*float64(span)/60_000, true
	m.count(p.Litres)
	if within := at-from <= spreadLimit*1000; !(wasDry && within) && !m.onlyOnChange() {
		p.From = p.DryUntil
	}
	return p, true
}

// hold is how long before a reading its rate can be taken to have held, ms.
func (m *Meter) hold(since int64) int64 {
	if since <= m.patience() {
		return since
	}
	return int64(m.Interval * 1000)
}

// patience is the silence, in ms, after which the meter is not waited for.
func (m *Meter) patience() int64 {
	return int64(math.Min(math.Max(90, 3*m.Interval), spreadLimit) * 1000)
}

// VolumeTotal takes a running total in litres.
func (m *Meter) VolumeTotal(at int64, total float64) (Passage, bool) {
	from, before := m.TotalAt, m.Total
	m.clock(at)
	m.TotalAt, m.Total = at, total
	if from == 0 {
		return Passage{}, false
	}
	p := Passage{From: from, To: at, DryUntil: from}
	litres, ok := increment(before, total, float64(at-from)/60_000)
	long := at-from > spreadLimit*1000
	if !ok || long && total < before { // reset while nobody looked: what passed before it is lost
		return p, true
	}
	m.count(litres)
	p.Litres, p.Known = litres, true
	if long {
		m.long(&p)
	}
	return p, true
}

// long decides what a total says about a span too long to spread it over: all
// of it was dry when not even a pulse more than one passed; dry but for its end
// when the sensor only speaks when it moves; otherwise unknown.
func (m *Meter) long(p *Passage) {
	tail := int64(math.Max(m.Interval, 1) * 1000)
	switch {
	case p.Litres == 0:
	case m.Steps >= stepsToTrust && p.Litres <= 1.001*m.Step,
		m.onlyOnChange() && p.Litres <= 60*float64(tail)/60_000:
		p.DryUntil = max(p.From, p.To-min(tail, 60_000))
	default:
		p.Known = false
	}
}

// increment is the litres between two totals, minutes apart. A total that went
// back was reset to zero or wrapped at the end of its counter; ok is false when
// neither explains it, or when no pipe could have carried it.
func increment(before, after, minutes float64) (litres float64, ok bool) {
	most := maxFlow * math.Max(minutes, 1.0/60)
	if after >= before {
		return tidy(after - before), after-before <= most
	}
	if wrap := wrapLitres(before); after+wrap-before <= most && before > 0.98*wrap {
		return tidy(after + wrap - before), true
	}
	return after, after >= 0 && after <= most
}

// wrapLitres is the least power of ten that the total fits below: mechanical
// and electronic registers roll over there.
func wrapLitres(total float64) float64 {
	wrap := 1000.0
	for wrap <= total && wrap < 1e12 {
		wrap *= 10
	}
	return wrap
}

// tidy takes off the noise that subtracting large totals leaves.
func tidy(litres float64) float64 {
	if litres < 1e-6 {
		return 0
	}
	return litres
}

// clock tracks the median interval: up a little when longer, down when shorter.
func (m *Meter) clock(at int64) {
	if m.At != 0 {
		switch dt := float64(at-m.At) / 1000; {
		case m.Interval == 0:
			m.Interval = math.Min(dt, 300)
		case dt > m.Interval:
			m.Interval = math.Min(m.Interval*1.05, dt)
		default:
			m.Interval = math.Max(m.Interval/1.05, dt)
		}
	}
	m.At = at
}

func (m *Meter) count(litres float64) {
	if litres <= 0 {
		m.Same++
		return
	}
	m.Moved = min(m.Moved+1, silentChances)
	if m.Steps < stepsToTrust {
		m.Steps++
	}
	if m.Step == 0 || litres < m.Step {
		m.Step = litres
	}
}
