package household

import (
	"math"
	"math/rand/v2"

	"brinebell/detect"
)

// leakRange is the flow of a plumbing fault from the slightest to the worst,
// L/min; severity goes between them on a logarithmic scale.
//
// A cistern loses from a little more than a drip to 300 US gal/day (200 is
// common practice for one that runs); a dripping fixture from one drop in four
// seconds to a thin stream (0.33 mL a drop: USGS); a hole in a supply line
// from 0.3 mm to 1/8 in, which at 60 psi passes 3,200 US gal/day (Durant,
// Oklahoma, utility table); a tap left open from a slow basin tap to a hose.
func leakRange(c detect.Cause) (low, high float64) {
	switch c {
	case detect.FlapperLeak:
		return 0.02, 0.8
	case detect.DrippingFixture:
		return 0.005, 0.15
	case detect.SupplyLineLeak:
		return 0.08, 8.4
	case detect.FixtureLeftOpen:
		return 2.5, 18
	}
	return 0, 0
}

// LeakFlow is the mean flow of a plumbing fault at a severity of 0 to 1, L/min,
// at 414 kPa (60 psi).
func LeakFlow(c detect.Cause, severity float64) float64 {
	low, high := leakRange(c)
	if severity <= 0 || low == 0 {
		return 0
	}
	return round(low*math.Pow(high/low, min(severity, 1)), 0.0001)
}

// LeakSeverity is LeakFlow's inverse, clipped to 0 to 1.
func LeakSeverity(c detect.Cause, flow float64) float64 {
	low, high := leakRange(c)
	if low == 0 || flow <= 0 {
		return 0
	}
	return max(0.001, min(1, math.Log(flow/low)/math.Log(high/low)))
}

// Leaks of the population: one home in ten loses at least 90 US gal/day (EPA
// WaterSense), and the mean is 17.0 US gal/day (REU2016).
const (
	badLeakShare  = 0.1
	badLeakLitres = 90 * litresPerGallon
	badLeakMean   = 125 * litresPerGallon // the split between bad and small is ours
	meanLeak      = 17.0 * litresPerGallon
	smallLeakMean = (meanLeak - badLeakShare*badLeakMean) / (1 - badLeakShare)
)

// Background draws the leak a home of the published population has had all
// along, in litres a day.
func Background(seed uint64) float64 {
	r := stream(seed, streamLeaks)
	if chance(r, badLeakShare) {
		return badLeakLitres + r.ExpFloat64()*(badLeakMean-badLeakLitres)
	}
	return min(around(r, smallLeakMean, 1.5), badLeakLitres*0.9)
}

// BackgroundCause says what plumbing fault a leak of so many litres a day is.
func BackgroundCause(seed uint64, litres float64) (detect.Cause, float64) {
	r := stream(seed, streamLeaks+1<<16)
	flow := litres / 1440
	c := detect.FlapperLeak
	if _, most := leakRange(detect.DrippingFixture); flow < most && chance(r, 0.4) {
		c = detect.DrippingFixture
	} else if least, _ := leakRange(detect.SupplyLineLeak); flow > least && chance(r, 0.15) {
		c = detect.SupplyLineLeak
	}
	return c, LeakSeverity(c, flow)
}

// never is a time beyond every simulation.
const never = int64(math.MaxInt64)

// leaks are the plumbing faults at work.
type leaks struct {
	r       *rand.Rand
	drip    float64 // L/min
	hole    float64 // L/min at 414 kPa
	open    float64 // L/min
	cistern float64 // L/min lost
	refill  int64   // when the cistern's valve opens next
	until   int64   // when it closes again
}

func (l *leaks) set(c detect.Cause, severity float64, now int64, h *Household) {
	flow := LeakFlow(c, severity)
	switch c {
	case detect.DrippingFixture:
		l.drip = flow
	case detect.SupplyLineLeak:
		l.hole = flow
	case detect.FixtureLeftOpen:
		l.open = flow
	case detect.FlapperLeak:
		was := l.cistern
		l.cistern = flow
		if flow == 0 {
			l.refill = never
		} else if was == 0 {
			l.refill = l.next(now, h)
		}
	}
}

// next is when a cistern that is full now has lost enough for its valve to open.
func (l *leaks) next(now int64, h *Household) int64 {
	seconds := h.CisternRefill / l.cistern * 60 * between(l.r, 0.93, 1.07)
	return now + max(1, int64(seconds))*1000
}

// flow is what leaks at an instant, and until when.
func (l *leaks) flow(now int64, pressure float64, h *Household) (flow float64, until int64) {
	flow = l.drip + l.open
	if l.hole > 0 {
		flow += round(l.hole*math.Sqrt(max(0, pressure)/414), 0.0001)
	}
	if l.cistern == 0 && now >= l.until {
		return flow, never
	}
	if now >= l.refill {
		seconds := h.CisternRefill / (h.CisternFlow - l.cistern) * 60
		l.until = now + max(1, int64(seconds+0.5))*1000
		l.refill = l.next(l.until, h)
	}
	if now < l.until {
		return flow + h.CisternFlow, l.until
	}
	return flow, l.refill
}
