package finding

import (
	"fmt"
	"math"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
)

const (
	// useProfile is how far, as one standard deviation of the logarithm, a home's
	// salt lies from what its settings and water explain: pores, hardness and
	// meters together. useOwn is the same of four weeks' cycles about the home's
	// own: a dose more or less in five.
	useProfile, useOwn = 0.30, 0.12
	// useLimit is the deviation that is raised, useBack that which ends it, in
	// standard deviations, and useRow for how many days in a row.
	useLimit, useBack, useRow = 3.5, 1.75, 7
	// useTeach is how many mornings make the home's own figure: two months.
	useTeach = 60
	// useHour is the local hour at which the books are looked at: nobody is woken
	// for salt.
	useHour = 9
)

// SaltUseWatch finds more or less salt used than the water explains.
//
// Needs: a witness of regenerations with brine_level, and a flow point.
// Statistic: the logarithm of the salt of the last four weeks' whole cycles over
// what the water used in them calls for at the settings, about the home's own, in
// the mornings of a week. Guests and holidays use more or less water,
// which explains their salt.
// False alarms: about 0.5 in 1,000 looks that do not repeat the last; a look is
// new once a cycle.
// And use that has grown for weeks (see grownUse), which explains more salt.
// Smallest fault visible: about half against the home's own, twice or a third
// where it was there from the first day.
// Closes within 1.75 standard deviations.
// Source: common practice, no source.
type SaltUseWatch struct {
	Day      int // of the year, last looked at
	Own      float64
	N        float64
	Row      int // mornings in a row beyond the limit, negative for low
	Standing detect.Kind
	ByWater  bool // what stands is that more water is used
	Grown    grownUse
	Onset    time.Time
}

// Step looks once a day.
func (d *SaltUseWatch) Step(v *View) *Verdict {
	d.Grown.minute(v)
	if v.Local.Hour() != useHour || v.Local.YearDay() == d.Day {
		return nil
	}
	d.Day = v.Local.YearDay()
	d.Grown.day()
	if said := d.water(v); said != nil || d.ByWater {
		return said
	}
	x := v.Books.Explains()
	share := math.Log(float64(x.Used) / float64(x.Explained))
	if !x.OK || math.IsNaN(share) || math.IsInf(share, 0) {
		return nil
	}
	z := d.deviation(share)
	if d.Standing != "" {
		if math.Abs(z) > useBack {
			return nil
		}
		kind := d.Standing
		d.Standing, d.Row = "", 0
		return &Verdict{Kind: kind}
	}
	switch {
	case z > useLimit:
		d.Row = max(d.Row, 0) + 1
	case z < -useLimit:
		d.Row = min(d.Row, 0) - 1
	default:
		d.Row = 0
		if math.Abs(z) < useBack {
			d.N = math.Min(d.N+1, useTeach)
			d.Own += (share - d.Own) / d.N
		}
		return nil
	}
	if d.Row == useRow || d.Row == -useRow {
		return d.raise(v, x, share)
	}
	return nil
}

// water looks whether the household has grown: then salt is used that the water
// explains, and somebody wants to know.
func (d *SaltUseWatch) water(v *View) *Verdict {
	if d.ByWater {
		if !d.Grown.over() {
			return nil
		}
		d.Standing, d.ByWater = "", false
		return &Verdict{Kind: detect.SaltUseHigh}
	}
	now, before, grown := d.Grown.grown()
	if !grown || d.Standing != "" {
		return nil
	}
	d.Standing, d.ByWater, d.Grown.Usual, d.Row = detect.SaltUseHigh, true, before, 0
	d.Onset = v.Minute.Start.AddDate(0, 0, -7*grownWeeks-grownRow)
	e := detect.Evidence{"sign": "water", "water_l_per_day": round(now, 0), "usual_water_l_per_day": round(before, 0), "water_growth_share": round(now/before-1, 2), "explained_share": 1.0}
	u := wordsFor(v.Home.Units)
	return &Verdict{Kind: detect.SaltUseHigh, Standing: true, Severity: detect.Plan, Onset: d.Onset, Evidence: e,
		Summary: fmt.Sprintf("For four weeks the household has used %s a day indoors, %.0f %% more than before. Salt is used up sooner for it, and the softener's reserve may no longer last to its hour: if more people live here now, have its settings looked at.", u.volume(now), 100*(now/before-1))}
}

// deviation shrinks the home's own to the profile's while little was seen.
func (d *SaltUseWatch) deviation(share float64) float64 {
	// Mornings repeat each other: four weeks of them are one observation.
	n := d.N / 28
	prior, data := 1/(useProfile*useProfile), n/(useOwn*useOwn)
	mean := d.Own * data / (prior + data)
	return (share - mean) / math.Sqrt(useOwn*useOwn+1/(prior+data))
}

func (d *SaltUseWatch) raise(v *View, x books.Explains, share float64) *Verdict {
	d.Standing = detect.SaltUseHigh
	how := "more"
	if d.Row < 0 {
		d.Standing, how = detect.SaltUseLow, "less"
	}
	d.Onset = v.Minute.Start.AddDate(0, 0, -28)
	usual := float64(x.Explained) * math.Exp(d.Own*math.Min(d.N/28, 1))
	excess := (float64(x.Used) - usual) / 4 * 52
	e := detect.Evidence{"used_kg": round(float64(x.Used), 1), "explained_kg": round(float64(x.Explained), 1), "usual_kg": round(usual, 1),
		"explained_share": round(float64(x.Share), 3)}
	u := wordsFor(v.Home.Units)
	text := fmt.Sprintf("In four weeks the softener used %s of salt, %s than the %s that the water used explains.", u.mass(float64(x.Used)), how, u.mass(usual))
	if d.Row > 0 && v.Home.Costs.Salt > 0 {
		e["excess_salt_kg_per_year"] = round(excess, 0)
		text += fmt.Sprintf(" That is %s a year.", u.mass(excess))
	} else {
		text += " The water may be hard."
	}
	return &Verdict{Kind: d.Standing, Standing: true, Severity: detect.Plan, Onset: d.Onset, Evidence: e, Summary: text}
}
