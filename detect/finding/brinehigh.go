package finding

import (
	"fmt"
	"math"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
)

const (
	// highFloat is how far above the float's level the brine stands too high, mm:
	// floats are set by hand to a centimetre.
	highFloat = 25.0
	// highRise is the least slow rise, mm, and highDose the least share of a
	// dose's rise, that is no more than salt dissolving (13 % of a refill) and a
	// level's drift.
	highRise, highDose = 30.0, 0.4
	// highJump is the rise of one minute that is a refill, a bag of salt or a
	// bucket and not a leak, mm: ten times what a worn brine valve lets by.
	highJump = 8.0
	// highLeft is the share of a dose's rise left undrawn, over the usual, in two
	// regenerations that says the brine stands higher than it used to.
	highLeft = 0.5
	// highHold is how many hours in a row a rise must stand.
	highHold = 2
	// settleHours is how long after a regeneration, or a jump, the level is left to
	// itself.
	settleHours = 2
	// highBack is the share of the limit below which the finding ends.
	highBack = 0.5
)

// BrineHighWatch finds more liquid in the brine tank than refills explain.
//
// Needs: brine_level.
// Statistic: (1) an hour's mean of the level over the float's, (2) its slow rise
// above the lowest hour since the last regeneration or jump, (3) the liquid left
// after the draw, over the home's own usual, twice in a row. A changed dose changes
// draw and refill alike and leaves no more undrawn; a filling with salt or a bucket
// of water rises within a minute and is let be.
// False alarms: an hour's mean of a level with 5 mm of noise is good to 1 mm;
// 30 mm come from nothing sound.
// Smallest fault visible: a seep that fills 0.4 of a dose between two
// regenerations: some 20 mL an hour in a home that regenerates weekly.
// Closes when it stands at half the limit again, over a regeneration for (3).
// Source: common practice, no source.
type BrineHighWatch struct {
	Sum      float64 // of the level in this hour
	N        int
	Last     float64 // level of the last minute known
	Known    bool
	Lowest   float64 // lowest hour's mean since the last regeneration or jump
	LowSeen  bool
	LowAt    time.Time
	Wait     int // hours left to settle
	Jumped   bool
	Above    int           // hours in a row above a limit
	Left     books.History // level after the draw, of the last sound regenerations
	Undrawn  int           // regenerations in a row with more left
	Standing string        // which sign stands; empty: none
	Base     float64       // mm: what it is held against
	Onset    time.Time
}

// Step follows the level.
func (d *BrineHighWatch) Step(v *View) *Verdict {
	if e := v.judged(); e != nil {
		if said := d.record(v); said != nil {
			return said
		}
	}
	level, ok := v.Minute.Get(detect.BrineLevel)
	if ok {
		if d.Known && math.Abs(level-d.Last) > highJump {
			d.Jumped = true
		}
		d.Last, d.Known = level, true
		d.Sum += level
		d.N++
	}
	if v.Regenerating || v.Record != nil {
		d.Jumped = true
	}
	if v.Minute.Start.Minute() != 59 {
		return nil
	}
	mean, n := d.Sum/float64(max(d.N, 1)), d.N
	d.Sum, d.N = 0, 0
	if d.Jumped {
		d.Jumped, d.Wait, d.LowSeen = false, settleHours, false
		if d.Standing != "rising" {
			d.Above = 0
		}
		return nil
	}
	if n < 30 {
		return nil
	}
	return d.hour(v, mean)
}

// hour judges an hour in service.
func (d *BrineHighWatch) hour(v *View, mean float64) *Verdict {
	if d.Standing != "" {
		return d.stepStanding(v, mean)
	}
	if float := v.Home.BrineTank.Float; float > 0 && mean > float+highFloat {
		if d.Above++; d.Above >= highHold {
			return d.raise(v, "above the float", mean, float, v.Minute.Start.Add(-highHold*time.Hour))
		}
		return nil
	}
	if d.Wait > 0 {
		d.Wait--
		return nil
	}
	if !d.LowSeen || mean < d.Lowest {
		d.Lowest, d.LowSeen, d.LowAt, d.Above = mean, true, v.Minute.Start, 0
		return nil
	}
	if mean-d.Lowest < riseLimit(v.Home) {
		d.Above = 0
		return nil
	}
	if d.Above++; d.Above >= highHold {
		return d.raise(v, "rising", mean, d.Lowest, d.LowAt)
	}
	return nil
}

func riseLimit(h *detect.Home) float64 { return math.Max(highRise, highDose*doseRise(h)) }

// record compares what was left undrawn.
func (d *BrineHighWatch) record(v *View) *Verdict {
	left := v.Record.LevelLowest
	if left != left {
		return nil
	}
	usual, _ := d.Left.Usual()
	limit := math.Max(highRise, highLeft*doseRise(v.Home))
	if usual != usual || left-usual < limit {
		d.Undrawn = 0
		if usual != usual || left-usual < limit/2 {
			d.Left.Learn(left, math.NaN())
		}
		if d.Standing == "undrawn" && left-d.Base < highBack*limit {
			return d.close()
		}
		return nil
	}
	if d.Undrawn++; d.Undrawn == 1 && d.Standing == "" {
		d.Onset = v.Record.Start
	}
	if d.Undrawn < 2 || d.Standing != "" {
		return nil
	}
	return d.raise(v, "undrawn", left, usual, d.Onset)
}

func (d *BrineHighWatch) close() *Verdict {
	d.Standing, d.Above, d.Undrawn, d.LowSeen = "", 0, 0, false
	return &Verdict{Kind: detect.BrineHigh}
}

func (d *BrineHighWatch) stepStanding(v *View, mean float64) *Verdict {
	limit := riseLimit(v.Home)
	back := d.Base + highBack*limit
	if d.Standing == "above the float" {
		back = d.Base
	}
	if d.Standing == "undrawn" || mean > back {
		d.Above = 0
		return nil
	}
	if d.Above++; d.Above < 12 {
		return nil
	}
	return d.close()
}

func (d *BrineHighWatch) raise(v *View, sign string, level, base float64, onset time.Time) *Verdict {
	d.Standing, d.Base, d.Onset, d.Above = sign, base, onset, 0
	h := v.Home
	e := detect.Evidence{"sign": sign, "level_mm": round(level, 0), "usual_level_mm": round(base, 0), "rise_mm": round(level-base, 0), "float_mm": round(h.BrineTank.Float, 0)}
	severity := detect.ThisWeek
	u := wordsFor(h.Units)
	text := fmt.Sprintf("The brine stands %s higher than it should", u.length(level-base))
	switch sign {
	case "rising":
		if hours := v.Minute.Start.Sub(onset).Hours(); hours > 0 {
			e["rise_mm_per_h"] = round((level-base)/hours, 2)
		}
		text = fmt.Sprintf("The brine has risen by %s since %s although nothing refilled it: water seeps in.", u.length(level-base), v.dayText(onset))
	case "above the float":
		text += ": above the float, which should have closed. The tank may overflow; look today."
	case "undrawn":
		text += " after a regeneration: part of it is no longer drawn."
	}
	if room := h.BrineTank.Height - level; room < 100 {
		severity = detect.ActNow
		e["room_mm"] = round(room, 0)
	}
	return &Verdict{Kind: detect.BrineHigh, Standing: true, Severity: severity, Onset: onset, Evidence: e, Summary: text}
}
