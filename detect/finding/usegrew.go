package finding

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"brinebell/detect"
)

const (
	// grownWeeks is how many weeks the new use is taken from, grownKept how many days
	// are remembered; the days before these weeks are what it is held against.
	grownWeeks, grownKept = 4, 63
	// grownSeen and grownBefore are the least days known of a week and of those before, grownDay the least
	// share of a day's minutes.
	grownSeen, grownBefore, grownDay = 5, 14, 0.9
	// grownBy is by how much each of the recent weeks must lie over the days before, as
	// means of logarithms without their highest and lowest tenth. Guests of a fortnight
	// leave a week free; households' days scatter by a third about their own (standard
	// deviation of the logarithm, WRF 4309), so that a week against a month is known to 0.14, and
	// four weeks are off by this once in some 10,000 months.
	grownBy = 1.2
	trimmed = 0.1
	// grownRow is for how many mornings in a row, grownBack the factor below which the
	// median must lie again.
	grownRow, grownBack = 5, 1.1
	// empty is the share of the median below which nobody was at home.
	empty = 0.25
	// outdoors is a use too large to be indoors, L: gardens have seasons.
	outdoors = 150.0
)

// grownUse follows what a household draws indoors a day, for SaltUseWatch: salt
// and regenerations go by it. Watering and filling, uses of more than 150 L, are
// left out.
type grownUse struct {
	Days   [grownKept]float32 // L of the last days, newest at Next-1; below 0 unknown
	Next   int
	Count  int
	Litres float64 // of the present day
	Use    float64 // of the use at hand
	Dry    int     // minutes since it
	Known  int     // minutes of the day
	Row    int     // mornings in a row beyond the limit
	Usual  float64 // L a day before it grew, of what stands
}

// minute takes in a minute.
func (g *grownUse) minute(v *View) {
	flow, ok := v.Minute.Get(v.Leading)
	if !ok {
		return
	}
	g.Known++
	if flow == 0 || v.Regenerating {
		if g.Dry++; g.Dry == 2 {
			g.end()
		}
		return
	}
	if drain, seen := v.Minute.Get(detect.DrainFlow); seen && v.beforeDrain(v.Leading) {
		flow = math.Max(0, flow-drain)
	}
	g.Dry, g.Use = 0, g.Use+flow
}

func (g *grownUse) end() {
	if g.Use < outdoors {
		g.Litres += g.Use
	}
	g.Use = 0
}

// day closes a day.
func (g *grownUse) day() {
	litres := float32(g.Litres)
	if float64(g.Known) < grownDay*1440 {
		litres = -1
	}
	g.Days[g.Next] = litres
	g.Next = (g.Next + 1) % grownKept
	g.Count = min(g.Count+1, grownKept)
	g.Litres, g.Known = 0, 0
}

// spans are the days known, as logarithms of litres: those of the last weeks, the
// newest first, and those before, without the days on which nobody was at home.
func (g *grownUse) spans() (weeks [grownWeeks][]float64, before []float64) {
	var all []float64
	for i := range g.Count {
		if l := g.back(i); l >= 0 {
			all = append(all, l)
		}
	}
	slices.Sort(all)
	if len(all) == 0 {
		return weeks, nil
	}
	least := math.Max(empty*stat.Quantile(0.5, stat.Empirical, all, nil), 1)
	for i := range g.Count {
		switch l := g.back(i); {
		case l < least:
		case i < 7*grownWeeks:
			weeks[i/7] = append(weeks[i/7], math.Log(l))
		default:
			before = append(before, math.Log(l))
		}
	}
	return weeks, before
}

// back is the litres of the day so many before the newest.
func (g *grownUse) back(days int) float64 {
	return float64(g.Days[(g.Next-1-days+2*grownKept)%grownKept])
}

// trimmedMean is the mean without the highest and the lowest tenth.
func trimmedMean(values []float64) float64 {
	slices.Sort(values)
	cut := int(trimmed*float64(len(values)) + 0.5)
	return stat.Mean(values[cut:len(values)-cut], nil)
}

// means are how much was used a day in the last weeks and before, and by what factor the
// least of these weeks lies over that; ok is false while too few days are known.
func (g *grownUse) means() (now, before, factor float64, ok bool) {
	weeks, b := g.spans()
	if len(b) < grownBefore {
		return 0, 0, 0, false
	}
	sum, least := 0.0, math.Inf(1)
	for _, w := range weeks {
		if len(w) < grownSeen {
			return 0, 0, 0, false
		}
		m := trimmedMean(w)
		sum, least = sum+m, math.Min(least, m)
	}
	base := trimmedMean(b)
	return math.Exp(sum / grownWeeks), math.Exp(base), math.Exp(least - base), true
}

// grown says whether the household has used more for weeks: how much a day now,
// and before.
func (g *grownUse) grown() (now, before float64, yes bool) {
	now, before, factor, ok := g.means()
	if !ok || factor < grownBy {
		g.Row = 0
		return 0, 0, false
	}
	g.Row++
	return now, before, g.Row >= grownRow
}

// over says whether it uses what it did before it grew, or has used the new amount
// for so long that this is now its own.
func (g *grownUse) over() bool {
	now, before, _, ok := g.means()
	return ok && (now < grownBack*g.Usual || now < grownBack*before)
}
