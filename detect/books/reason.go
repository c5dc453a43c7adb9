package books

import (
	"math"
	"slices"

	"brinebell/detect"
	"brinebell/detect/regeneration"
)

// Reason names what was missing or out of proportion in a regeneration.
type Reason string

// The reasons. Low and high are against the home's own past, or, while that is
// short, against the programme; off-programme says that the past agrees and only
// the programme does not, so the profile is likely wrong.
const (
	BrineNone          Reason = "brine_none"
	BrineLow           Reason = "brine_low"
	BrineHigh          Reason = "brine_high"
	BrineOffProgramme  Reason = "brine_off_programme"
	RefillNone         Reason = "refill_none"
	RefillLow          Reason = "refill_low"
	RefillHigh         Reason = "refill_high"
	RefillOffProgramme Reason = "refill_off_programme"
	DrainNone          Reason = "drain_none"
	DrainLow           Reason = "drain_low"
	DrainHigh          Reason = "drain_high"
	DrainOffProgramme  Reason = "drain_off_programme"
	PhaseMissing       Reason = "phase_missing"
	CutShort           Reason = "cut_short"
	NeverEnded         Reason = "never_ended"
	OffHour            Reason = "off_hour"
	LevelLower         Reason = "level_lower"  // the brine stands lower after than before
	LevelHigher        Reason = "level_higher" // and higher
)

// The proportions, common practice: programmes are followed within a quarter,
// since flow controls are good to 10 to 15 %; less than 15 % of a quantity is
// none of it.
const (
	programmeShare = 0.25
	noneShare      = 0.15
)

// proportion names the reasons of one quantity.
type proportion struct{ none, low, high, off Reason }

var (
	brineReasons  = proportion{BrineNone, BrineLow, BrineHigh, BrineOffProgramme}
	refillReasons = proportion{RefillNone, RefillLow, RefillHigh, RefillOffProgramme}
	drainReasons  = proportion{DrainNone, DrainLow, DrainHigh, DrainOffProgramme}
)

// judge finds the reason in a figure, if any.
func (p proportion) judge(f Figure) (Reason, bool) {
	v, programme := float64(f.Value), float64(f.OfProgramme)
	want := float64(f.Usual)
	if math.IsNaN(want) {
		want = float64(f.Programme)
	}
	offProgramme := math.Abs(programme-1) > programmeShare
	off := offProgramme
	if f.Usual.Known() {
		off = math.Abs(f.Sigmas()) > gateSigmas
	}
	switch {
	case math.IsNaN(v) || math.IsNaN(want):
		return "", false
	case v < noneShare*want:
		return p.none, true
	case off && v < want:
		return p.low, true
	case off:
		return p.high, true
	}
	return p.off, offProgramme
}

// reasons lists everything that was wrong with a regeneration.
func (l *Ledger) reasons(rec *regeneration.Record, e *Entry) []Reason {
	var found []Reason
	add := func(r Reason, yes bool) {
		if yes {
			found = append(found, r)
		}
	}
	add(CutShort, rec.Ending == regeneration.CutShort)
	add(NeverEnded, rec.Ending == regeneration.NeverEnded)
	add(OffHour, rec.Manual)
	add(PhaseMissing, len(e.Missing) > 0)
	add(brineReasons.judge(e.Brine))
	add(refillReasons.judge(e.Refill))
	add(drainReasons.judge(e.Drain))
	add(l.levelMoved(rec, e))
	return found
}

// levelMoved compares the brine before and after: a regeneration puts back what
// it took, or the tank fills or empties from night to night. The first after a
// filling with salt is let off, since pellets displace brine.
func (l *Ledger) levelMoved(rec *regeneration.Record, e *Entry) (Reason, bool) {
	moved := l.tank.Volume(rec.LevelEnd, math.NaN()) - l.tank.Volume(rec.LevelStart, math.NaN())
	limit := programmeShare * float64(e.Brine.Programme)
	if l.Salt.FilledAt >= l.Bed.LastStart && l.Salt.FilledAt != 0 {
		return "", false
	}
	if moved > limit {
		return LevelHigher, true
	}
	return LevelLower, moved < -limit
}

// missing lists the programmed phases that the home's sensors would have shown
// and did not. The slow rinse may hide in the brine draw.
func (l *Ledger) missing(rec *regeneration.Record) []detect.Phase {
	var gone []detect.Phase
	for _, step := range l.home.Softener.Cycle {
		if step.Phase == detect.SlowRinse || step.Duration <= 0 || !shown(rec, step.Phase) || has(rec, step.Phase) || slices.Contains(gone, step.Phase) {
			continue
		}
		gone = append(gone, step.Phase)
	}
	return gone
}

// shown says whether the record's sensors see a phase at all: those to the
// drain by the drain, those of the tank by its level.
func shown(rec *regeneration.Record, p detect.Phase) bool {
	switch p {
	case detect.Refill:
		return !math.IsNaN(rec.RefillLitres)
	case detect.BrineDraw:
		return !math.IsNaN(rec.BrineLitres) || !math.IsNaN(rec.DrainLitres)
	}
	return !math.IsNaN(rec.DrainLitres)
}

func has(rec *regeneration.Record, p detect.Phase) bool {
	for _, phase := range rec.Phases {
		if phase.Name == p {
			return true
		}
	}
	return false
}
