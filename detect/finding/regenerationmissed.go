package finding

import (
	"fmt"
	"math"
	"time"

	"brinebell/detect"
	"brinebell/detect/resin"
)

const (
	// missedYoung and missedOwn are how many times the usable capacity must have
	// been used up, at the last hour on which a delayed control could act, before
	// it is missed: against the profile, and against the home's own largest use
	// between two regenerations. Two meters agree within 7 % (ISO 4064, class 2,
	// and as much again), hardness and setting within 20 %.
	missedYoung, missedOwn = 1.5, 1.3
	// missedDays is how far past the override a regeneration may come, days: the
	// night itself, and a start by hand that put the count back by less than one.
	missedDays = 1.3
	// missedGrace is how long after the hour the control is given, and how long
	// the recogniser takes to finish a cycle, minutes.
	missedGrace = 240
	// missedBlind is how many minutes in a row without a witness may have hidden a
	// regeneration.
	missedBlind = 60
	// missedTrust is the confidence from which a cycle counts as one here: it is
	// enough that the valve may have regenerated.
	missedTrust = 0.3
	// missedDrain is the share of the programme's water down the drain in one
	// stream that may have been a regeneration too strange to be recognised, and
	// missedDry how many dry minutes end a stream.
	missedDrain, missedDry = 0.3, 60
	// missedJammed is the share of the house's water below which the softener's
	// meter is not believed: two meters agree within 7 %, taps that nobody told of
	// are fed before the softener too.
	missedJammed = 0.5
)

// RegenerationMissedWatch finds a regeneration that did not come when due.
//
// Needs: a witness of regenerations (the drain's meter or brine_level), and for a
// metered control a flow point; without one only the days are counted.
// Statistic: hardness taken up since the last possible regeneration over what the
// control allows, as it stood at the last regeneration hour; and days since it
// against the override or the interval. A stretch in which nobody was watching
// counts as a regeneration, an unsure cycle and one started by hand too.
// False alarms: the home would have to use a third more than it ever did between
// two regenerations: settings off by more than half, before it is known.
// Smallest fault visible: one night missed where days are counted; for a metered
// control a valve that counts a third less than the books.
// Closes at the next regeneration that comes in time; one that only comes late,
// as from a wrong setting, does not end it.
// Source: common practice, no source; meters by ISO 4064.
type RegenerationMissedWatch struct {
	Since    time.Time // last possible regeneration; when watching began
	Base     float64   // eq in the books' account at that time, when it was no record
	Struck   float64   // share of usable used up at the last regeneration hour
	Largest  float64   // largest share at a sound regeneration, as it stood a night before
	MostDays float64   // longest sound interval, days
	Blind    int       // minutes in a row without a witness
	NoLevel  int       // minutes in a row without the level
	NoDrain  int       // and without the drain's meter
	Sound    int       // regenerations seen, up to a few
	Drained  float64   // litres of the present stream down the drain
	Dry      int       // dry minutes in it
	Late     bool      // while standing: the last one came, but late
	Each     lateness  // whether each one comes late
	In, Soft float64   // litres since, at the house's meter and at the softener's, outside regenerations
	Standing bool
	Onset    time.Time
}

// Step counts, and judges once an hour.
func (d *RegenerationMissedWatch) Step(v *View) *Verdict {
	if v.Record != nil && v.Record.Confidence >= missedTrust {
		return d.came(v)
	}
	d.watch(v)
	d.drink(v)
	if v.Minute.Start.Unix()%900 != 0 || v.Local.Minute() != 0 { // the first is cheap, and no zone is off by less
		return nil
	}
	d.strike(v)
	if d.Standing || v.Regenerating {
		return nil
	}
	if v.away(v.Minute.Start.Add(-24*time.Hour), v.Minute.Start.Add(time.Minute)) {
		return nil // nobody needs it, and somebody may have switched it off
	}
	return d.judge(v)
}

// watch starts the count again when a regeneration may have passed unseen.
func (d *RegenerationMissedWatch) watch(v *View) {
	_, level := v.Minute.Get(detect.BrineLevel)
	d.half(v, level, &d.NoLevel)
	flow, drain := v.Minute.Get(detect.DrainFlow)
	d.half(v, drain, &d.NoDrain)
	if drain && d.strange(v, flow) {
		d.restart(v)
	}
	switch {
	case d.Since.IsZero():
		d.restart(v)
	case level || drain:
		if d.Blind >= missedBlind {
			d.restart(v)
		}
		d.Blind = 0
	default:
		d.Blind++
	}
}

// half follows one witness: with only the other, a cycle may not have been
// recognised.
func (d *RegenerationMissedWatch) half(v *View, seen bool, gone *int) {
	if !seen {
		*gone++
		return
	}
	if *gone >= missedBlind && !d.Since.IsZero() {
		d.restart(v)
	}
	*gone = 0
}

// strange says whether so much water ran down the drain that it may have been a
// regeneration that the recogniser does not know for one.
func (d *RegenerationMissedWatch) strange(v *View, flow float64) bool {
	if flow < stuckFlow {
		if d.Dry++; d.Dry > missedDry {
			d.Drained = 0
		}
		return false
	}
	d.Dry = 0
	d.Drained += flow
	return d.Drained > missedDrain*programmeDrain(v.Home)
}

func (d *RegenerationMissedWatch) restart(v *View) {
	d.Since, d.Base, d.Struck = v.Minute.Start, v.Books.Bed.Removed, 0
	d.Each.Share, d.Each.Before = 0, 0
	d.In, d.Soft = 0, 0
}

// drink counts the household's water at both meters.
func (d *RegenerationMissedWatch) drink(v *View) {
	in, ok := v.Minute.Get(detect.InletFlow)
	soft, both := v.Minute.Get(detect.ServiceFlow)
	if !ok || !both || v.Regenerating {
		return
	}
	drain, _ := v.Minute.Get(detect.DrainFlow)
	if drain == drain {
		in = math.Max(0, in-drain)
	}
	d.In, d.Soft = d.In+in, d.Soft+soft
}

// used is the share of the usable capacity used up since the count began. The
// books go by the softener's meter; where that misses most of what the house's
// meter shows, and all of it passes the softener, they go by the house's here: a
// control that counts with a jammed meter is just what keeps it from regenerating.
func (d *RegenerationMissedWatch) used(v *View) float64 {
	eq := math.Max(0, v.Books.Bed.Removed-d.Base)
	raw := v.Books.RawHardness()
	if len(v.Home.Bypassed) == 0 && d.Soft < missedJammed*d.In {
		eq = math.Max(eq, resin.Equivalents(d.In, raw))
	}
	// The control reckons with the hardness that it was set to; that the water has
	// become harder since is not for it to know.
	if set := resin.DefaultCompensation.Hardness(v.Home.Water); set > 0 && set < raw {
		eq *= set / raw
	}
	return usedUp(v.Home, resin.Grams(eq))
}

// strike keeps what had been used up when the control last could act.
func (d *RegenerationMissedWatch) strike(v *View) {
	if v.Home.Softener.Control == detect.MeteredImmediate || int(math.Abs(hourOff(v.Home, v.Minute.Start))) < 30 {
		d.Struck = d.used(v)
		d.Each.hour(v.Minute.Start, d.Struck)
	}
}

// came takes in a regeneration, which ends the count.
func (d *RegenerationMissedWatch) came(v *View) *Verdict {
	r := v.Record
	days := r.Start.Sub(d.Since).Hours() / 24
	if e := v.judged(); e != nil && !d.Standing && d.Sound > 0 {
		// The night before it was not yet due, by the control's own count.
		if share := usedUp(v.Home, float64(e.Removed)); share < missedYoung*1.5 {
			d.Largest = math.Max(d.Largest, share)
		}
		if most := float64(v.Home.Softener.DaysOverride); days < most+missedDays {
			d.MostDays = math.Max(d.MostDays, days)
		}
	}
	d.Sound = min(d.Sound+1, 3)
	late := d.late(v, days)
	if said := d.each(v, days); said != nil {
		d.Since, d.Base, d.Struck, d.Blind, d.In, d.Soft = r.Start, 0, 0, 0, 0, 0
		return said
	}
	first := !d.Late
	d.Since, d.Base, d.Struck, d.Blind, d.In, d.Soft = r.Start, 0, 0, 0, 0, 0
	if !d.Standing {
		return nil
	}
	if d.Late = late; late || first {
		d.Late = true
		return nil
	}
	d.Standing, d.Late = false, false
	return &Verdict{Kind: detect.RegenerationMissed}
}

// each follows whether every regeneration comes late; what stands of a missed one
// goes first.
func (d *RegenerationMissedWatch) each(v *View, days float64) *Verdict {
	s := v.Home.Softener
	share := d.Struck
	if v.judged() == nil || v.Record.Manual || s.Control != detect.MeteredDelayed || d.Blind > 0 || s.DaysOverride > 0 && days > float64(s.DaysOverride)-1 {
		return nil
	}
	switch begins, ends := d.Each.came(v.Record.Start); {
	case d.Standing:
	case begins:
		return d.Each.verdict(v, share)
	case ends:
		return &Verdict{Kind: detect.RegenerationMissed}
	}
	return nil
}

// late says whether the control should have acted before now.
func (d *RegenerationMissedWatch) late(v *View, days float64) bool {
	s := v.Home.Softener
	return s.DaysOverride > 0 && days > float64(s.DaysOverride)+missedDays || s.Control != detect.Timed && d.Struck > d.limit()
}

// limit is the share of the usable capacity beyond which a regeneration is missed.
func (d *RegenerationMissedWatch) limit() float64 {
	if d.Sound >= 3 && d.Largest > 0 {
		return missedOwn * math.Max(1, d.Largest)
	}
	return missedYoung
}

func (d *RegenerationMissedWatch) judge(v *View) *Verdict {
	s := v.Home.Softener
	days := v.Minute.Start.Sub(d.Since).Hours() / 24
	past := math.Abs(hourOff(v.Home, v.Minute.Start)) < missedGrace // the cycle may still be under way
	byDays := s.DaysOverride > 0 && days > float64(s.DaysOverride)+missedDays && !past
	byUse := s.Control != detect.Timed && d.Struck > d.limit() && (!past || s.Control == detect.MeteredImmediate)
	if !byDays && !byUse || d.Blind > 0 {
		return nil
	}
	d.Standing, d.Late, d.Each.Standing = true, false, false
	d.Onset = d.Since.Add(time.Duration(float64(s.DaysOverride) * 24 * float64(time.Hour)))
	if byUse {
		// It was due when the usable share had been passed.
		d.Onset = d.Since.Add(time.Duration(float64(v.Minute.Start.Sub(d.Since)) / math.Max(1, d.used(v))))
	}
	return d.verdict(v, days, byUse)
}

func (d *RegenerationMissedWatch) verdict(v *View, days float64, byUse bool) *Verdict {
	why := "days"
	if byUse {
		why = "use"
	}
	e := detect.Evidence{"days_since": round(days, 1), "override_days": v.Home.Softener.DaysOverride, "due_by": why, "longest_before_days": round(d.MostDays, 1)}
	putShare(e, "capacity_used_share", d.used(v))
	putShare(e, "largest_before_share", d.Largest)
	tail := "The water may turn hard."
	if byUse {
		tail = fmt.Sprintf("Its capacity has been used up %s times over, so the water is likely hard.", figures(d.used(v)))
	}
	return &Verdict{Kind: detect.RegenerationMissed, Standing: true, Severity: detect.ThisWeek, Onset: d.Onset, Evidence: e,
		Summary: fmt.Sprintf("The softener should have regenerated and has not, for %s. %s", daysText(v.Minute.Start.Sub(d.Since)), tail)}
}
