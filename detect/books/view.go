package books

import (
	"time"
)

// Books is a reading of the ledger for people: what is known, now.
type Books struct {
	At    time.Time  `json:"at,omitzero"` // the last minute booked
	Basis WaterBasis `json:"water_basis"`

	Today     DayView  `json:"today"` // so far
	Yesterday DayView  `json:"yesterday"`
	Water     Usual    `json:"water_week_l"` // through the softener
	PastWeek  Number   `json:"past_week_l"`  // water past it in the last seven full days
	Salt      Usual    `json:"salt_week_kg"`
	Heavy     Number   `json:"heavy_day_l"`
	Weekday   []Number `json:"weekday_l"` // usual use, Sunday first

	Raw      RawView  `json:"raw_water"`
	Bed      BedView  `json:"bed"`
	Next     Due      `json:"next_regeneration"`
	Tank     TankView `json:"tank"`
	RunsOut  Forecast `json:"salt_runs_out"`
	Explains Explains `json:"salt_explained"`

	Regenerations int `json:"regenerations_seen"`

	Days []DayView `json:"-"` // the days kept, the oldest first; the engine adds them for pictures
}

// WaterBasis says which meters the water through the softener is known from.
type WaterBasis string

// The meters water is known from.
const (
	ByService WaterBasis = "service_meter"
	ByInlet   WaterBasis = "inlet_meter" // all the home's water is taken to be softened
	ByNoMeter WaterBasis = "none"
)

// DayView is one local day of water and salt.
type DayView struct {
	Date    string `json:"date"`
	Through Number `json:"through_l"`
	Past    Number `json:"past_l"`
	Rinse   Number `json:"rinse_l"` // regeneration water; 0 when none was seen
	Salt    Number `json:"salt_kg"` // 0 when no regeneration was seen
	Seen    Number `json:"seen"`    // share of the day's minutes with known water
}

// View reads the books. It changes nothing.
func (l *Ledger) View() Books {
	use := l.Use()
	b := Books{
		Basis: l.basis(), Today: l.dayView(l.Day), Yesterday: l.dayView(l.Day - 1),
		Water:    usual(l.weekSums(l.Day, func(d *Day) (float64, bool) { return max(0, d.Through), d.full() })),
		Salt:     l.saltWeeks(),
		PastWeek: l.pastWeek(), Heavy: Number(use.Heavy),
		Raw: l.rawView(), Bed: l.bedView(), Next: l.NextDue(), Tank: l.tankView(), RunsOut: l.RunsOut(), Explains: l.Explains(),
		Regenerations: l.Past.Regenerations,
	}
	for _, v := range use.Weekday {
		b.Weekday = append(b.Weekday, Number(v))
	}
	if l.Last != 0 {
		b.At = time.Unix(l.Last, 0).In(l.home.Location)
	}
	return b
}

func (l *Ledger) basis() WaterBasis {
	switch {
	case l.Water.HasService:
		return ByService
	case l.Water.HasInlet:
		return ByInlet
	}
	return ByNoMeter
}

// saltWeeks is the salt by week up to the last regeneration, each dose spread over
// the days that earned it: counted on the night it was taken, one week in four
// would hold a dose more than the others and say nothing by it.
func (l *Ledger) saltWeeks() Usual {
	if l.Past.Regenerations == 0 {
		return usual(nil)
	}
	kg := l.earned()
	return usual(l.weekSums(l.lastRegenerationDay(), func(d *Day) (float64, bool) {
		v := kg[d.Date%daysKept]
		return v, v == v
	}))
}

func (l *Ledger) pastWeek() Number {
	sums := l.weekSums(l.Day, func(d *Day) (float64, bool) {
		return d.Past, float64(d.PastMinutes) >= fullDay*1440
	})
	if len(sums) == 0 {
		return Unknown()
	}
	return Number(max(0, sums[0]))
}

// DayBooks is the days kept, the oldest first.
func (l *Ledger) DayBooks() []DayView {
	var days []DayView
	for date := l.Day - daysKept + 1; date <= l.Day; date++ {
		if l.Water.day(date) != nil {
			days = append(days, l.dayView(date))
		}
	}
	return days
}

// dayView reads one day; what was not seen is unknown.
func (l *Ledger) dayView(date int32) DayView {
	d := l.Water.day(date)
	v := DayView{Through: Unknown(), Past: Unknown(), Rinse: Unknown(), Salt: Unknown(), Seen: Unknown()}
	if l.Last == 0 {
		return v
	}
	v.Date = civilDate(date).Format(time.DateOnly)
	if d == nil {
		return v
	}
	v.Rinse, v.Salt, v.Seen = Number(d.Rinse), Number(d.Salt), Number(min(1, float64(d.Minutes)/1440))
	if d.Minutes > 0 {
		v.Through = Number(max(0, d.Through))
	}
	if d.PastMinutes > 0 {
		v.Past = Number(max(0, d.Past))
	}
	return v
}
