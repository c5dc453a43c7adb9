package finding

import (
	"fmt"
	"math"
	"time"

	"brinebell/detect"
)

const (
	// hardLeast and hardShare are the hardness from which water is not softened,
	// mg/L and share of the raw water's: three grains, of 0 to 1 that a sound
	// softener leaves (common practice), and three steps of a strip.
	hardLeast, hardShare = 51.0, 0.2
	// hardHours is how many hours in a row a probe must show it, hardStrips how
	// many single tests.
	hardHours, hardStrips = 24, 2
	// hardLeft is the share of what the last dose can have restored by which hard
	// water is not just a bed at its end; beyond it, it must last hardEnd hours.
	hardLeft, hardEnd = 0.6, 72
	// hardFlush is how much water brings a regeneration to the tap, L.
	hardFlush = 50.0
	// hardBegun is how long a home is watched before a probe is judged, unless
	// hardTurns regenerations were seen before: a bed that was met exhausted gets no
	// more than a part of its capacity back from the first dose.
	hardBegun = 21 * 24 * time.Hour
	hardTurns = 3
	// stripGap is the time between readings from which they are single tests.
	stripGap = 12 * time.Hour
	// softHours is how long it must be soft for the finding to end.
	softHours = 24
	// softCycles is how many regenerations, or softDays how many days, must fall
	// into soft water: a bed that is hard at the end of each cycle is one finding.
	softCycles, softDays = 2, 10
)

// hardTap follows one tap's hardness.
type hardTap struct {
	At    time.Time // of the last reading
	Last  float64
	Hours int       // in a row hard, by readings no further apart than stripGap
	Soft  int       // hours in a row soft
	Turns int       // regenerations while soft
	Tests int       // single tests in a row that were hard
	From  time.Time // the first hard reading of the row
	Sum   float64
	N     int
}

// HardWaterWatch finds water that is not softened.
//
// Needs: cold_hardness or hot_hardness, by probe or by test. Conductivity alone
// does not show it: exchange changes it by less than raw water's own seasons.
// Statistic: hardness over hardLeast and hardShare of the raw water's for a day
// and a night without a break while the bed should still have capacity, for three
// where it should not (a probe), or in two tests in a row.
// False alarms: a bed that ran out hours before its regeneration is soft again
// within the day; a single test may have met just that.
// Smallest fault visible: a fifth of the raw hardness.
// Closes after a day and two regenerations of soft water, or two soft tests.
// Source: common practice, no source; a strip's step is one grain, 17.1 mg/L.
type HardWaterWatch struct {
	Cold, Hot hardTap
	Begun     time.Time
	Turned    int // regenerations seen, up to hardTurns
	Standing  bool
	Onset     time.Time
}

func hardLimit(v *View) float64 { return math.Max(hardLeast, hardShare*v.Books.RawHardness()) }

// Step takes in readings of both taps.
func (d *HardWaterWatch) Step(v *View) *Verdict {
	if v.Record != nil {
		d.Turned = min(d.Turned+1, hardTurns)
		d.Cold.Turns++
		d.Hot.Turns++
	}
	cold, okCold := v.Minute.Get(detect.ColdHardness)
	hot, okHot := v.Minute.Get(detect.HotHardness)
	if !okCold && !okHot || v.Regenerating {
		return nil
	}
	if d.Begun.IsZero() {
		d.Begun = v.Minute.Start
	}
	if okCold {
		d.Cold.take(v, cold)
	}
	if okHot {
		d.Hot.take(v, hot)
	}
	if d.Standing {
		if d.tap().soft() {
			d.Standing = false
			return &Verdict{Kind: detect.HardWater}
		}
		return nil
	}
	t := d.tap()
	if t.Tests >= hardStrips || d.known(v) && t.hard(v) {
		d.Standing, d.Onset = true, t.From
		return d.verdict(v, t)
	}
	return nil
}

// tap is the one that is judged: the cold one where it is measured, since a
// heater keeps the water of days.
func (d *HardWaterWatch) tap() *hardTap {
	if d.Cold.At.IsZero() {
		return &d.Hot
	}
	return &d.Cold
}

func (d *HardWaterWatch) known(v *View) bool {
	return d.Turned >= hardTurns || v.Minute.Start.Sub(d.Begun) > hardBegun
}

// take books one reading.
func (t *hardTap) take(v *View, mg float64) {
	gap := v.Minute.Start.Sub(t.At)
	first := t.At.IsZero()
	if mg <= hardLimit(v) {
		t.Hours, t.Tests, t.N, t.Sum = 0, 0, 0, 0
		if t.Soft == 0 {
			t.From, t.Turns = v.Minute.Start, 0
		}
		t.Soft = 1 + int(v.Minute.Start.Sub(t.From).Hours())
		if gap > stripGap && !first {
			t.Turns += softCycles // a test
		}
	} else {
		if t.Soft > 0 || first {
			t.From, t.Soft = v.Minute.Start, 0
		}
		t.N++
		t.Sum += mg
		t.Hours = int(v.Minute.Start.Sub(t.From).Hours())
		if gap > stripGap {
			t.Tests++
		} else if t.Tests == 0 {
			t.Tests = -1 // a probe
		}
	}
	t.At, t.Last = v.Minute.Start, mg
}

func (t *hardTap) soft() bool {
	return t.Soft >= softHours && t.Turns >= softCycles || t.Soft >= softDays*24
}

// hard says whether a probe shows more than a bed at its end.
func (t *hardTap) hard(v *View) bool {
	hours := hardEnd
	if b := &v.Books.Bed; b.Removed < hardLeft*b.Restored && b.Litres > hardFlush {
		hours = hardHours
	}
	return t.N >= hardHours/2 && t.Hours >= hours
}

func (d *HardWaterWatch) verdict(v *View, t *hardTap) *Verdict {
	mean := t.Sum / float64(max(t.N, 1))
	raw := v.Books.RawHardness()
	e := detect.Evidence{"hardness_mg_per_l": round(mean, 0), "raw_mg_per_l": round(raw, 0), "hard_share": round(mean/raw, 2), "hours": t.Hours, "readings": t.N, "tap": "cold"}
	if t == &d.Hot {
		e["tap"] = "hot"
	}
	if c, h := d.Cold.Last, d.Hot.Last; !d.Cold.At.IsZero() && !d.Hot.At.IsZero() {
		e["cold_mg_per_l"], e["hot_mg_per_l"] = round(c, 0), round(h, 0)
	}
	return &Verdict{Kind: detect.HardWater, Standing: true, Severity: detect.ThisWeek, Onset: d.Onset, Evidence: e,
		Summary: fmt.Sprintf("The water after the softener is hard: %s, %.0f %% of what comes in.", wordsFor(v.Home.Units).hardness(mean), 100*mean/raw)}
}

func (w words) hardness(v float64) string {
	return w.say(v, "mg/L", "gpg", detect.Hardness)
}
