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
	// rinsePulse is the coarsest pulse of the drain's meter, L, by which phases are told
	// apart: a slow rinse passes some 60 L, a fast one 20 to 50.
	rinsePulse = 2.5
	// saltyHours is for how long after a regeneration the water is looked at,
	// saltyLitres how much must have been drawn by then.
	saltyHours, saltyLitres = 12, 20.0
	// saltyFactor and saltyLeast are how far the conductivity must stand over that
	// before the regeneration: 200 uS/cm are about 100 mg/L of sodium chloride,
	// where it is first tasted (EPA 822-R-03-006: 30 to 60 mg/L of sodium).
	saltyFactor, saltyLeast = 1.4, 200.0
	// saltyReadings is how many readings in a row must stand so.
	saltyReadings = 6
	// narrowSlack and narrowLimit are k and h of the cumulative sum over how much less the
	// quick phases (backwash, fast rinse) pass than they did, beside the slow one; narrowScatter
	// the standard deviation of that ratio's logarithm: pressure moves both alike, and
	// what is left are the minutes' edges. In control a signal comes once in some 42,000
	// regenerations (Siegmund). narrowLeast is the least loss claimed, as a share.
	narrowSlack, narrowLimit, narrowScatter, narrowLeast = 1.0, 4.5, 0.08, 0.25
	// saltySure times what it was convicts at once; less must have fallen back by
	// half, or it is the water that has changed and not the rinse.
	saltySure = 2.5
)

// RinseShortWatch finds brine left in the bed: salty water is likely.
//
// Needs: the drain's meter; sharper, and enough by itself, with soft_conductivity.
// Statistic: litres to the drain in draw, slow and fast rinse less the brine,
// against the home's usual and in bed volumes, where brine was drawn; the flow of
// backwash and fast rinse beside that of the slow one, which a drain line that
// narrows takes away first (severity plan), in a cumulative sum; or conductivity after a regeneration, over that
// before it, in six readings in a row of the first twelve hours.
// False alarms: phases are timed, flows held within 15 %: 0.6 of the usual in one
// regeneration is beyond four standard deviations. The first use after a sound
// regeneration is learnt.
// Smallest fault visible: 40 % of the rinse missing; a quarter of the quick flows.
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
	Tasted   bool      // enough of them in a row
	Quick    normal    // flow of the quick phases, over the programme's
	Slow     normal    // and of the slow ones
	Narrow   float64   // the cumulative sum
	Since    time.Time // it left zero
	ByDrain  bool      // a narrow drain stands
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
	d.Ended, d.Litres, d.Salty, d.Peak, d.Tasted = r.End, 0, 0, 0, false
	litres, fast := rinseOf(r)
	want := programmedRinse(v.Home)
	drawn := nanTo(r.BrineLitres, 0) / doseLitres(v.Home)
	if litres != litres || r.DrainLitres != r.DrainLitres || want <= 0 || v.pulseAt(detect.DrainFlow) > rinsePulse {
		return nil
	}
	if said := d.narrows(v); said != nil {
		return said
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
		if d.Standing && !d.ByDrain {
			d.Standing = false
			return &Verdict{Kind: detect.RinseShort}
		}
	}
	return nil
}

// paces are the mean flows of the quick and of the slow phases of a regeneration
// over the programme's, less what ran to the drain before it; NaN when unknown. Of
// backwash and fast rinse the quicker counts: a narrow drain slows both, and a
// backwash that was taken for longer than it was, since the draw after it hardly
// shows, looks slow alone.
func paces(v *View) (quick, slow float64) {
	var got, minutes, want, planned [3]float64
	running := nanTo(v.Record.RunningDrain, 0)
	for _, p := range v.Record.Phases {
		if i, ok := paced(p.Name); ok {
			got[i] += p.DrainLitres - running*p.Duration.Minutes()
			minutes[i] += p.Duration.Minutes()
		}
	}
	for _, p := range v.Home.Softener.Cycle {
		if i, ok := paced(p.Phase); ok {
			want[i], planned[i] = want[i]+p.Flow*p.Duration.Minutes(), planned[i]+p.Duration.Minutes()
		}
	}
	var pace [3]float64
	for i := range pace {
		pace[i] = ratioOrNaN(ratioOrNaN(got[i], minutes[i]), ratioOrNaN(want[i], planned[i]))
	}
	switch {
	case pace[0] != pace[0]:
		return pace[1], pace[2]
	case pace[1] != pace[1]:
		return pace[0], pace[2]
	}
	return math.Max(pace[0], pace[1]), pace[2]
}

// paced numbers the phases whose flow is compared: backwash, fast rinse, and what
// runs through the nozzle.
func paced(p detect.Phase) (i int, ok bool) {
	switch p {
	case detect.Backwash:
		return 0, true
	case detect.FastRinse:
		return 1, true
	case detect.BrineDraw, detect.SlowRinse:
		return 2, true
	}
	return 0, false
}

// narrows follows the quick phases beside the slow one.
func (d *RinseShortWatch) narrows(v *View) *Verdict {
	quick, slow := paces(v)
	if !(quick > 0) || !(slow > 0) || v.Record.Ending == regeneration.NeverEnded {
		return nil
	}
	if d.Quick.N < drawLearning {
		d.Quick.learn(quick)
		d.Slow.learn(slow)
		return nil
	}
	lost := math.Log(quick) - d.Quick.Mean
	apart := lost - math.Min(0, math.Log(slow)-d.Slow.Mean)
	z := math.Max(-8, math.Min(apart/narrowScatter, 8))
	before := d.Narrow
	d.Narrow = math.Min(math.Max(0, d.Narrow-z-narrowSlack), 2*narrowLimit)
	if before == 0 {
		d.Since = v.Record.Start
	}
	switch {
	case d.ByDrain && z > -2:
		d.ByDrain, d.Standing, d.Narrow = false, false, 0
		return &Verdict{Kind: detect.RinseShort}
	case !d.Standing && d.Narrow >= narrowLimit && lost < math.Log(1-narrowLeast):
		d.ByDrain = true
		said := d.raise(v, "narrow drain", d.Since, detect.Evidence{"quick_pace_share": round(math.Exp(lost), 2), "slow_pace_share": round(math.Exp(math.Log(slow)-d.Slow.Mean), 2)})
		said.Severity = detect.Plan
		said.Summary = fmt.Sprintf("Backwash and last rinse pass only %.0f %% of the water they used to: the drain line or its flow control narrows. The bed is not washed clean, and before long brine is left in it; have it cleared at the next visit.", 100*math.Exp(lost))
		return said
	case math.Abs(z) < 2 && d.Narrow < 1:
		d.Quick.learn(quick)
		d.Slow.learn(slow)
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
	if d.Tasted = d.Tasted || d.Salty >= saltyReadings; d.Standing || d.Litres < saltyLitres || !d.Tasted {
		return nil
	}
	if d.Peak < saltySure*d.Before && c-d.Before > (d.Peak-d.Before)/2 {
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
