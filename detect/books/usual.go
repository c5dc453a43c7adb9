package books

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"brinebell/detect/resin"
)

// usualSpan is how many days back the home's present rate of use is taken from:
// long enough for four of each weekday, short enough to follow a change.
const usualSpan = 28

// weekdays sorts the litres through the softener on full days, today left out,
// by weekday; Sunday first.
func (w *WaterBook) weekdays(today int32) (byDay [7][]float64, all []float64) {
	for i := range w.Days {
		if d := &w.Days[i]; d.Date != 0 && d.Date < today && today-d.Date < daysKept && d.full() {
			k := int(d.Date+4) % 7 // 1970-01-01 was a Thursday
			byDay[k] = append(byDay[k], d.Through)
			all = append(all, d.Through)
		}
	}
	return byDay, all
}

// Use is what the home draws through its softener by weekday: means of its full
// days, and the 90 % quantile of a day as the heavy one. NaN where no such day
// was seen.
func (l *Ledger) Use() resin.Use {
	byDay, all := l.Water.weekdays(l.Day)
	u := resin.Use{Heavy: math.NaN()}
	for i, v := range byDay {
		u.Weekday[i] = stat.Mean(v, nil) // NaN for none
	}
	if len(all) >= 7 {
		slices.Sort(all)
		u.Heavy = stat.Quantile(0.9, stat.Empirical, all, nil)
	}
	return u
}

// Advice is the setting a technician would choose for the home's raw water and
// the use in these books.
func (l *Ledger) Advice() resin.Advice { return resin.Advise(l.home, l.RawWater(), l.Use()) }

// weekSums is the sums of get over whole weeks back from the day before until,
// the latest first; a week counts when at least six of its days are good, and is scaled to
// seven. It reaches no further back than the day the books opened.
func (l *Ledger) weekSums(until int32, get func(d *Day) (float64, bool)) []float64 {
	var sums []float64
	first := l.openedOn()
	for end := until; end-7 >= max(first, l.Day-daysKept); end -= 7 {
		sum, good := 0.0, 0
		for date := end - 7; date < end; date++ {
			if d := l.Water.day(date); d != nil {
				if v, ok := get(d); ok {
					sum += v
					good++
				}
			}
		}
		if good >= 6 {
			sums = append(sums, sum*7/float64(good))
		}
	}
	return sums
}

// earned spreads the salt of each regeneration over the days since the one before,
// which earned it: kg a day at the date modulo daysKept, NaN where no whole cycle
// reaches.
func (l *Ledger) earned() (kg [daysKept]float64) {
	for i := range kg {
		kg[i] = math.NaN()
	}
	open := int32(0) // day of the regeneration before
	for date := l.Day - daysKept + 1; date <= l.Day; date++ {
		d := l.Water.day(date)
		if d == nil || d.Regenerations == 0 {
			continue
		}
		for day := open; open != 0 && day < date; day++ {
			kg[day%daysKept] = d.Salt / float64(date-open)
		}
		open = date
	}
	return kg
}

// openedOn is the first local day that was seen from its beginning, or nearly.
func (l *Ledger) openedOn() int32 {
	if l.First == 0 {
		return math.MaxInt32
	}
	return l.Day - int32((l.DayEnd-l.First)/86400) + 1
}

// Usual is this week's figure beside the home's own normal.
type Usual struct {
	Week   Number `json:"week"`   // the last seven full local days; of salt, of whole cycles
	Normal Number `json:"normal"` // median of the weeks before, up to seven
	Spread Number `json:"spread"` // their robust standard deviation
	Ratio  Number `json:"ratio"`  // week / normal
}

// usual sets the latest of the sums beside the median of the rest.
func usual(sums []float64) Usual {
	u := Usual{Unknown(), Unknown(), Unknown(), Unknown()}
	if len(sums) == 0 {
		return u
	}
	u.Week = Number(sums[0])
	rest := slices.Clone(sums[1:])
	if len(rest) < 2 {
		return u
	}
	median := medianOf(rest)
	for i, v := range rest {
		rest[i] = math.Abs(v - median)
	}
	u.Normal, u.Spread = Number(median), Number(madSigma*medianOf(rest))
	u.Ratio = Number(ratio(sums[0], median))
	return u
}
