package finding

import (
	"fmt"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
)

const (
	// lowPlan and lowWeek are how many days ahead the day the salt runs out is
	// told of, and when it presses; lowClear is how far off it must be for the
	// finding to end.
	lowPlan, lowWeek, lowClear = 21, 7, 28
	// lowWet is how many hours the salt's top must stand at or below the brine.
	lowWet = 12
	// lowMargin is how far above the brine it must stand again, mm.
	lowMargin = 30.0
	// lowDoses is how much salt may still be there for that to count, in doses: a
	// large dose stands over plenty of salt too.
	lowDoses = 4.0
)

// SaltLowWatch tells of the day on which the salt runs out.
//
// Needs: salt_level, or fillings told by the household; and what shows how fast
// salt is used. At a home without either it stays silent.
// Statistic: the books' forecast of the day on which the tank no longer holds one
// dose, with its band of 80 %, looked at each morning; and, where the brine is
// made after the draw and salt should stand above the liquid, the salt's top at or
// below the brine for half a day with no more than a few doses left.
// Told three weeks ahead, for this week when the early end of the band is within
// seven days. Nobody is woken: it is looked at in the morning.
// Closes when the day is four weeks off again.
// Source: common practice, no source.
type SaltLowWatch struct {
	Day      int
	Wet      int // hours in a row with the salt under water
	Standing bool
	Pressing bool
	Told     int // days ahead, as last said
	Onset    time.Time
}

// Step looks in the morning, and each hour at the two levels.
func (d *SaltLowWatch) Step(v *View) *Verdict {
	if v.Minute.Start.Minute() != 0 {
		return nil
	}
	d.compare(v)
	if v.Local.Hour() != useHour || v.Local.YearDay() == d.Day {
		return nil
	}
	d.Day = v.Local.YearDay()
	wet := d.Wet >= lowWet
	f := v.Books.RunsOut()
	if !f.OK && !wet && !d.Standing {
		return nil
	}
	ahead := daysAhead(f.Expected, v.Minute.Start)
	switch {
	case d.Standing && d.Wet == 0 && f.OK && ahead > lowClear:
		d.Standing, d.Pressing = false, false
		return &Verdict{Kind: detect.SaltLow}
	case wet || f.OK && ahead <= lowPlan:
		return d.tell(v, f, ahead, wet)
	}
	return nil
}

// daysAhead is the whole days to t, many when t is beyond the horizon.
func daysAhead(t, now time.Time) int {
	if t.IsZero() {
		return 1 << 20
	}
	return int(t.Sub(now).Hours() / 24)
}

// compare counts hours with the salt under water.
func (d *SaltLowWatch) compare(v *View) {
	top, level := v.saltTop(), v.Books.Salt.Level
	if v.Home.Softener.RefillBefore || v.Regenerating || top != top || level != level {
		return
	}
	switch {
	case top <= level && !v.plentyOfSalt():
		d.Wet++
	case top > level+lowMargin || !d.Standing:
		d.Wet = 0
	}
}

// plentyOfSalt says whether the books have more than a few doses in the tank.
func (v *View) plentyOfSalt() bool {
	kg := float64(v.Books.View().Tank.Salt)
	return kg > lowDoses*v.Home.Softener.SaltDose
}

// tell raises, and says more when it has come to press.
func (d *SaltLowWatch) tell(v *View, f books.Forecast, ahead int, wet bool) *Verdict {
	pressing := wet || f.OK && daysAhead(f.Early, v.Minute.Start) <= lowWeek
	if d.Standing && (d.Pressing || !pressing) && d.Told-ahead < lowWeek {
		return nil
	}
	if !d.Standing {
		d.Onset = v.Minute.Start
	}
	d.Standing, d.Pressing, d.Told = true, pressing, ahead
	severity := detect.Plan
	if pressing {
		severity = detect.ThisWeek
	}
	kg := v.Books.View().Tank
	e := detect.Evidence{"under_water": wet}
	if kg.Salt.Known() {
		e["salt_kg"], e["salt_spread_kg"] = round(float64(kg.Salt), 1), round(float64(kg.Spread), 1)
		e["room_kg"] = round(float64(kg.Room), 1)
	}
	text := "The salt stands below the brine: it is nearly used up. Fill the tank this week, or the water turns hard."
	if f.OK && !f.Expected.IsZero() {
		early, late := daysAhead(f.Early, v.Minute.Start), daysAhead(f.Late, v.Minute.Start)
		e["days_left"], e["early_days"] = ahead, early
		band := ""
		if !f.Late.IsZero() {
			e["late_days"] = late
			band = fmt.Sprintf(" (between %s and %s, four times out of five)", v.dayText(f.Early), v.dayText(f.Late))
		}
		if !wet {
			text = fmt.Sprintf("The salt lasts until about %s%s.", v.dayText(f.Expected), band)
		}
	}
	return &Verdict{Kind: detect.SaltLow, Standing: true, Severity: severity, Onset: d.Onset, Evidence: e, Summary: text}
}
