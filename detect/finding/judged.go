package finding

import (
	"math"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/brine"
	"brinebell/detect/resin"
)

// judged is what the books say of a regeneration that has just finished and was
// recognised surely enough to be judged; nil in every other minute.
func (v *View) judged() *books.Entry {
	if v.Record == nil || v.Entry == nil || v.Record.Confidence < sureRegeneration {
		return nil
	}
	return v.Entry
}

// waterKnown is the share of a cycle's minutes with known water below which its
// sum is not judged: a day of an outage may be the day on which guests bathed.
const waterKnown = 0.97

// ratioOrNaN is a/b, NaN where b is not above zero.
func ratioOrNaN(a, b float64) float64 {
	if b > 0 {
		return a / b
	}
	return math.NaN()
}

// usable is the hardness in eq that a metered control lets the bed take up
// between regenerations, as set.
func usable(s detect.Softener) float64 {
	full := s.Capacity * s.Resin
	if s.Control == detect.MeteredDelayed {
		return full * (1 - s.Reserve)
	}
	return full
}

// usedUp is the share of usable capacity that so many grams of hardness as
// CaCO3 are.
func usedUp(h *detect.Home, grams float64) float64 {
	return ratioOrNaN(grams, resin.Grams(usable(h.Softener)))
}

// hourOff is how many minutes local time t stands after the programme's hour,
// -720 to 720.
func hourOff(h *detect.Home, t time.Time) float64 {
	t = t.In(h.Location)
	m := float64(t.Hour()*60+t.Minute()) - h.Softener.RegenerationTime.Minutes()
	return math.Mod(m+720+1440, 1440) - 720
}

// doseRise is by how many mm one dose of brine lifts the level in a salted tank.
func doseRise(h *detect.Home) float64 {
	t := brine.NewTank(h.BrineTank)
	low := h.BrineTank.Grid + 1
	return ratioOrNaN(doseLitres(h), t.LitresPerMM(low, math.NaN()))
}

// hourTime is the start of a Unix hour.
func (v *View) hourTime(hour int64) time.Time { return time.Unix(hour*3600, 0).UTC() }

// dayText writes a date for a household.
func (v *View) dayText(t time.Time) string { return t.In(v.Home.Location).Format("2 January") }

// beliefWith is belief for a quantity whose profile is off by profile and whose
// observations scatter by scatter, standard deviations of the logarithm.
func (n normal) beliefWith(profile, scatter float64) (mean, sd float64) {
	prior, data := 1/(profile*profile), n.N/(scatter*scatter)
	return n.Mean * data / (prior + data), math.Sqrt(1 / (prior + data))
}

// topStale is how long a sensor over the salt may be silent.
const topStale = 24 * time.Hour

// saltTop is the salt's top as an hour's mean, mm; NaN when no sensor has shown
// it lately.
func (v *View) saltTop() float64 {
	s := &v.Books.Salt
	if s.TopAt == 0 || v.Minute.Start.Sub(time.Unix(s.TopAt, 0)) > topStale {
		return math.NaN()
	}
	return s.Top
}
