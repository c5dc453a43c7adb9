package finding

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"brinebell/detect"
)

const (
	// grownRecent is how many days back the new use is taken from, grownKept how many
	// are remembered; the days before the recent ones are what it is held against.
	grownRecent, grownKept = 28, 63
	// grownSeen and grownBefore are the least days known of either, grownDay the least
	// share of a day's minutes.
	grownSeen, grownBefore, grownDay = 23, 14, 0.9
	// grownLow and grownBy: so low a quantile of the recent days must lie by so much over
	// the median of those before, and over their upper fifth. A guest of a fortnight leaves half of the days as
	// they were; households' days scatter by a third about their own (standard deviation of the
	// logarithm; WRF 4309), so that by chance it happens once in a million windows.
	grownLow, grownHigh, grownBy = 0.2, 0.8, 1.3
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

// spans are the days known, those of the last so many and those before, without the
// days on which nobody was at home.
func (g *grownUse) spans() (recent, before []float64) {
	var all []float64
	for i := range g.Count {
		if l := g.Days[(g.Next-1-i+2*grownKept)%grownKept]; l >= 0 {
			all = append(all, float64(l))
		}
	}
	least := empty * median(all)
	for i := range g.Count {
		l := float64(g.Days[(g.Next-1-i+2*grownKept)%grownKept])
		switch {
		case l < least:
		case i < grownRecent:
			recent = append(recent, l)
		default:
			before = append(before, l)
		}
	}
	slices.Sort(recent)
	slices.Sort(before)
	return recent, before
}

// median of values, in any order; 0 of none.
func median(values []float64) float64 {
	if len(values) == 0 {
		return 0
	}
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	return stat.Quantile(0.5, stat.Empirical, sorted, nil)
}

// grown says whether the household has used more for weeks: how much a day now,
// and before.
func (g *grownUse) grown() (now, before float64, yes bool) {
	r, b := g.spans()
	if len(r) < grownSeen || len(b) < grownBefore {
		g.Row = 0
		return 0, 0, false
	}
	before = stat.Quantile(0.5, stat.Empirical, b, nil)
	if low := stat.Quantile(grownLow, stat.Empirical, r, nil); low < grownBy*before || low < stat.Quantile(grownHigh, stat.Empirical, b, nil) {
		g.Row = 0
		return 0, 0, false
	}
	g.Row++
	return stat.Quantile(0.5, stat.Empirical, r, nil), before, g.Row >= grownRow
}

// back says whether it uses what it did before it grew, or has used the new amount for so
// long that this is now its own.
func (g *grownUse) back() bool {
	r, b := g.spans()
	if len(r) < grownSeen || len(b) < grownBefore {
		return false
	}
	now := stat.Quantile(0.5, stat.Empirical, r, nil)
	return now < grownBack*g.Usual || now < grownBack*stat.Quantile(0.5, stat.Empirical, b, nil)
}
