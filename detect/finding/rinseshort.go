package finding

import (
	"fmt"
	"math"
	"time"

	"brinebell/detect"
	"brinebell/detect/regeneration"
)

const (
	// rinseBeds is the rinse in bed volumes below which brine stays in the bed:
	// slow rinse 1 to 3 (UFC 3-240-13FN, 2005, 2-2.5.1.2); household totals are 2.7
	// to 4.7 (20 to 35 gal/ft3, operator training text).
	rinseBeds = 1.5
	// rinseShare is the share of the usual rinse below which it is short.
	rinseShare = 0.6
	// rinseBrine is the share of a dose that must have been drawn for its rinse to
	// matter.
	rinseBrine = 0.3
	// rinseKnown is how many sound regenerations make the usual.
	rinseKnown = 3
	// saltyHours is for how long after a regeneration the water is looked at,
	// saltyLitres how much must have been drawn by then.
	saltyHours, saltyLitres = 12, 20.0
	// saltyFactor and saltyLeast are how far the conductivity must stand over that
	// before the regeneration: 200 uS/cm are about 100 mg/L of sodium chloride,
	// where it is first tasted (EPA 822-R-03-006: 30 to 60 mg/L of sodium).
	saltyFactor, saltyLeast = 1.4, 200.0
	// saltyReadings is how many readings in a row must stand so.
	saltyReadings = 6
)

// RinseShortWatch finds brine left in the bed: salty water is likely.
//
// Needs: the drain's meter; sharper, and enough by itself, with soft_conductivity.
// Statistic: litres to the drain in draw, slow and fast rinse less the brine,
// against the home's usual and in bed volumes, where brine was drawn; or conductivity after a regeneration, over that
// before it, in six readings in a row of the first twelve hours.
// False alarms: phases are timed, flows held within 15 %: 0.6 of the usual in one
// regeneration is beyond four standard deviations. The first use after a sound
// regeneration is learnt.
// Smallest fault visible: 40 % of the rinse missing.
// Closes at the next regeneration in order.
// Source: UFC 3-240-13FN; else common practice, no source.
type RinseShortWatch struct {
	Usual    normal // litres over the programme's
	Before   float64
	Seen     float64   // readings behind Before, up to a day of them
	Ended    time.Time // of the last regeneration
	Litres   float64   // drawn since
	Salty    int       // readings in a row of high conductivity since
	Peak     float64
	Standing bool
	Onset    time.Time
}

// Step judges finished regenerations and tastes the water after them.
func (d *RinseShortWatch) Step(v *View) *Verdict {
	if v.judged() != nil {
		if said := d.record(v); said != nil {
			return said
		}
	}
	if c, ok := v.Minute.Get(detect.SoftConductivity); ok {
		return d.taste(v, c)
	}
	return nil
}

// rinseOf is the litres that rinsed the bed; NaN when the drain was not seen.
func rinseOf(r *regeneration.Record) (litres float64, fast bool) {
	for _, p := range r.Phases {
		switch p.Name {
		case detect.BrineDraw, detect.SlowRinse, detect.FastRinse:
			litres += p.DrainLitres
			fast = fast || p.Name == detect.FastRinse
		}
	}
	return litres - math.Max(0, nanTo(r.BrineLitres, 0)), fast
}

func nanTo(v, other float64) float64 {
	if v != v {
		return other
	}
	return v
}

func programmedRinse(h *detect.Home) float64 {
	sum := -doseLitres(h)
	for _, p := range h.Softener.Cycle {
		if p.Phase == detect.BrineDraw || p.Phase == detect.SlowRinse || p.Phase == detect.FastRinse {
			sum += p.Duration.Minutes() * p.Flow
		}
	}
	return sum
}

func (d *RinseShortWatch) record(v *View) *Verdict {
	r := v.Record
	d.Ended, d.Litres, d.Salty, d.Peak = r.End, 0, 0, 0
	litres, fast := rinseOf(r)
	want := programmedRinse(v.Home)
	drawn := nanTo(r.BrineLitres, 0) / doseLitres(v.Home)
	if litres != litres || r.DrainLitres != r.DrainLitres || want <= 0 {
		return nil
	}
	usual := want
	if d.Usual.N >= rinseKnown {
		usual = want * math.Exp(d.Usual.Mean)
	}
	beds := ratioOrNaN(litres, v.Home.Softener.Resin)
	short := litres < rinseShare*usual && beds < rinseBeds
	cut := short && r.Ending == regeneration.CutShort && !fast
	switch {
	case short && drawn >= rinseBrine && !d.Standing:
		return d.raise(v, "rinse", r.Start, detect.Evidence{"rinse_l": round(litres, 0), "usual_rinse_l": round(usual, 0),
			"rinse_bed_volumes": round(beds, 2), "brine_share": round(drawn, 2), "cut_short": cut})
	case !short && r.Ending == regeneration.Completed:
		if math.Abs(math.Log(math.Max(litres, 1)/usual)) < 0.5 || d.Usual.N < rinseKnown {
			d.Usual.learn(litres / want)
		}
		if d.Standing {
			d.Standing = false
			return &Verdict{Kind: detect.RinseShort}
		}
	}
	return nil
}

// taste compares the water after a regeneration with that before it.
func (d *RinseShortWatch) taste(v *View, c float64) *Verdict {
	since := v.Minute.Start.Sub(d.Ended)
	if v.Regenerating || d.Ended.IsZero() || since < 0 || since > saltyHours*time.Hour {
		if !v.Regenerating {
			d.Seen = math.Min(d.Seen+1, 288)
			d.Before += (c - d.Before) / d.Seen
		}
		return nil
	}
	if f, ok := v.Minute.Get(detect.ServiceFlow); ok {
		d.Litres += f
	}
	if c > saltyFactor*d.Before && c > d.Before+saltyLeast && d.Seen >= 60 {
		d.Salty++
		d.Peak = math.Max(d.Peak, c)
	} else {
		d.Salty = 0
	}
	if d.Standing || d.Litres < saltyLitres || d.Salty < saltyReadings {
		return nil
	}
	return d.raise(v, "conductivity", d.Ended, detect.Evidence{"conductivity_us_per_cm": round(d.Peak, 0), "before_us_per_cm": round(d.Before, 0), "drawn_since_l": round(d.Litres, 0)})
}

func (d *RinseShortWatch) raise(v *View, sign string, onset time.Time, e detect.Evidence) *Verdict {
	d.Standing, d.Onset = true, onset
	e["sign"] = sign
	return &Verdict{Kind: detect.RinseShort, Standing: true, Severity: detect.ThisWeek, Onset: onset, Evidence: e,
		Summary: fmt.Sprintf("The last regeneration (%s) did not rinse its brine out: the water may taste salty. Let a cold tap run until it does not; who must avoid sodium drinks other water meanwhile.", v.dayText(onset))}
}
