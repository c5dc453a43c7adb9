package finding

import (
	"fmt"
	"math"
	"time"

	"brinebell/detect"
	"brinebell/detect/resin"
)

const (
	// shortTwice is the share of what the last dose can have restored by which
	// hardness must not have come back twice in a row. Published capacities scatter
	// by a tenth about their curve, and a bed's front is not sharp.
	shortTwice = 0.8
	// shortOwn is the share of the home's own litres to breakthrough, likewise twice.
	shortOwn = 0.8
	// shortReadings is how many readings in a row must be hard, shortLitres how
	// much water drawn meanwhile.
	shortReadings, shortLitres = 3, 20.0
	// shortKnown is how many cycles make the home's own, and end a finding.
	shortKnown = 2
	// lateUsual is the share of cycles in which a sound bed runs out before its hour,
	// guests in its last day, and lateWeight how many cycles that opinion weighs; lateChanged
	// the share where setting, water or use no longer fit. lateLimit is the limit of their cumulative log
	// likelihood ratio: three such cycles on end. Where one in fifty runs out, a false
	// alarm comes in some 100,000 cycles.
	lateUsual, lateWeight, lateChanged, lateLimit = 0.1, 10.0, 0.8, 6.0
	// lateSound is how many cycles that lasted must have been seen before, lateHours for
	// how long the water must have been hard.
	lateSound, lateHours = 3, 4
	// lateMemory is over how many cycles the home's own share is taken.
	lateMemory = 40.0
	// shortCycles is how many regenerations must have been seen before a cycle is
	// judged: before, nobody knows how deep the bed was exhausted.
	shortCycles = 2
)

// CapacityShortWatch finds a bed that runs out before its salt is used.
//
// Needs: cold_hardness by a probe, and a flow point. Single tests are too few, but for
// raw_hardness, of which some suffice.
// Statistic: hardness removed between a regeneration and the first hard water
// (three readings in a row, 20 L), after soft water was seen, over what the salt
// then drawn can have restored; and over the home's own litres to that point. And
// cycles that run out before their hour at all, by a cumulative likelihood ratio
// against the home's own share of them. And raw water that has become harder, which
// the control does not know (severity plan).
// False alarms: twice in a row 20 % early is two standard deviations each of the
// published scatter: a lasting error of the profile's hardness could do it, so raw
// hardness as measured is used where it is.
// Smallest fault visible: a fifth of the capacity, where regenerations leave
// the bed to run out; a bed with a reserve shows less loss only once it exceeds
// the reserve.
// Closes at the second cycle that brings soft water past the limit.
// Source: capacity by dose as in package resin; ageing UFC 3-240-13FN.
type CapacityShortWatch struct {
	Cycle    time.Time // end of the regeneration that began this cycle
	Soft     bool      // soft water seen in it
	Hard     int       // readings in a row that were hard
	Litres   float64   // at the first of them
	Removed  float64   // eq, likewise
	HardAt   time.Time
	Broke    bool // it ran out in this cycle
	Row      int  // cycles in a row that ran out early
	Own      normal
	Well     int
	Turns    int     // regenerations seen, up to shortCycles
	Raw      harder  // the water before the softener
	Late     float64 // cumulative log likelihood ratio of cycles that run out at all
	LateRow  int     // cycles in it that did
	LateFrom time.Time
	Ran, Of  float64       // cycles of the home's own that ran out, of so many
	HardFor  time.Duration // from the first hard reading to the regeneration
	Standing bool
	Onset    time.Time
}

// Step follows the cold tap through each cycle.
func (d *CapacityShortWatch) Step(v *View) *Verdict {
	if raw, ok := v.Minute.Get(detect.RawHardness); ok && (!d.Standing || d.Raw.Standing) {
		if said := d.Raw.take(v, raw); said != nil {
			return said
		}
	}
	if v.Record != nil && v.Entry != nil {
		return d.turn(v)
	}
	mg, ok := v.Minute.Get(detect.ColdHardness)
	if !ok || v.Regenerating || d.Cycle.IsZero() || d.Broke {
		return nil
	}
	bed := &v.Books.Bed
	if mg <= hardLimit(v) {
		if bed.Litres > shortLitres {
			d.Soft = true
		}
		d.Hard = 0
		return nil
	}
	if !d.Soft {
		return nil
	}
	if d.Hard++; d.Hard == 1 {
		d.Litres, d.Removed, d.HardAt = bed.Litres, bed.Removed, v.Minute.Start
	}
	if d.Hard < shortReadings || bed.Litres-d.Litres < shortLitres {
		return nil
	}
	d.Broke = true
	if float64(bed.Known) < waterKnown*v.Minute.Start.Sub(d.Cycle).Minutes() {
		return nil
	}
	return d.ranOut(v)
}

// turn begins a cycle; one that never ran out counts towards the end of a
// finding.
func (d *CapacityShortWatch) turn(v *View) *Verdict {
	whole := usedUp(v.Home, float64(v.Entry.Removed)) > shortTwice
	sound := !d.Broke && d.Soft && whole
	if said := d.late(v); said != nil {
		d.begin(v)
		return said
	}
	d.begin(v)
	if !sound {
		return nil
	}
	d.Row = 0
	if d.Well++; !d.Standing || d.Well < shortKnown {
		return nil
	}
	d.Standing, d.Well = false, 0
	return &Verdict{Kind: detect.CapacityShort}
}

// begin begins a cycle.
func (d *CapacityShortWatch) begin(v *View) {
	d.Cycle, d.Soft, d.Hard, d.Broke = v.Record.End, false, 0, false
	if d.Turns = min(d.Turns+1, shortCycles); v.Record.Confidence < sureRegeneration || d.Turns < shortCycles {
		d.Cycle = time.Time{}
	}
}

// late counts cycles that ran out before their regeneration, however late in
// them: one does when guests came, each of them where the setting, the reserve,
// the raw water or the use no longer fit.
func (d *CapacityShortWatch) late(v *View) *Verdict {
	if d.Cycle.IsZero() || !d.Soft {
		return nil
	}
	usual := (lateUsual*lateWeight + d.Ran) / (lateWeight + d.Of)
	if !d.Broke {
		if d.Late = math.Max(0, d.Late+math.Log((1-lateChanged)/(1-usual))); d.Late == 0 {
			d.own(float64(d.LateRow))
			d.LateRow = 0
		}
		return nil
	}
	d.HardFor = v.Record.Start.Sub(d.HardAt)
	if d.Of < lateSound || d.HardFor < lateHours*time.Hour {
		return nil // a home that always ended so, or for the last glass: as it is set
	}
	if d.LateRow++; d.LateRow == 1 {
		d.LateFrom = d.Cycle
	}
	d.Late = math.Min(d.Late+math.Max(0, math.Log(lateChanged/usual)), 2*lateLimit)
	if d.Standing || d.Late < lateLimit {
		return nil
	}
	d.Standing, d.Raw.Standing, d.Well, d.Onset = true, false, 0, d.LateFrom
	e := detect.Evidence{"sign": "before each regeneration", "cycles": d.LateRow, "hard_for_h": round(d.HardFor.Hours(), 0),
		"litres_to_hard": round(d.Litres, 0), "usual_share_run_out": round(usual, 2)}
	putShare(e, "capacity_share", ratioOrNaN(d.Removed, v.Books.Bed.Restored))
	putShare(e, "capacity_used_share", usedUp(v.Home, float64(v.Entry.Removed)))
	return &Verdict{Kind: detect.CapacityShort, Standing: true, Severity: detect.ThisWeek, Onset: d.Onset, Evidence: e,
		Summary: fmt.Sprintf("The water turned hard before the last %d regenerations, this time %s before: hardness setting, reserve or dose no longer fit the water and its use.", d.LateRow, minutesText(d.HardFor))}
}

// own learns what share of this home's cycles run out; none of the last, or a
// row that has passed.
func (d *CapacityShortWatch) own(ran float64) {
	if d.Of >= lateMemory {
		d.Ran, d.Of = d.Ran*(lateMemory-1)/d.Of, lateMemory-1
	}
	d.Ran, d.Of = d.Ran+ran, d.Of+1
}

// ranOut judges a breakthrough.
func (d *CapacityShortWatch) ranOut(v *View) *Verdict {
	share := ratioOrNaN(d.Removed, v.Books.Bed.Restored)
	programme := ratioOrNaN(d.Removed, resin.BedCapacity(v.Home.Softener.Salt, v.Home.Softener.Resin, v.Home.Softener.SaltDose))
	own := math.NaN()
	if d.Own.N >= shortKnown {
		own = programme / math.Exp(d.Own.Mean)
	}
	early := share < shortTwice || own < shortOwn
	if !early {
		d.Row = 0
		d.Own.learn(programme)
		return nil
	}
	d.Well = 0
	if d.Row++; d.Row == 1 && !d.Standing {
		d.Onset = d.Cycle
	}
	if d.Standing || d.Row < 2 {
		return nil
	}
	d.Standing, d.Raw.Standing = true, false
	return d.verdict(v, share, own)
}

func (d *CapacityShortWatch) verdict(v *View, share, own float64) *Verdict {
	e := detect.Evidence{"litres_to_hard": round(d.Litres, 0), "removed_g": round(resin.Grams(d.Removed), 0), "cycles": d.Row, "days_since": round(d.HardAt.Sub(d.Cycle).Hours()/24, 1)}
	putShare(e, "capacity_share", share)
	putShare(e, "own_share", own)
	u := wordsFor(v.Home.Units)
	return &Verdict{Kind: detect.CapacityShort, Standing: true, Severity: detect.ThisWeek, Onset: d.Onset, Evidence: e,
		Summary: fmt.Sprintf("The softener runs out early: the water turned hard after %s, %.0f %% of what its salt should soften.", u.volume(d.Litres), 100*math.Min(share, nanTo(own, share)))}
}
