package books

import (
	"time"

	"brinebell/detect"
	"brinebell/detect/resin"
)

// Books is a reading of the ledger for people: what is known, now.
type Books struct {
	At    time.Time  `json:"at"` // the last minute booked
	Basis WaterBasis `json:"water_basis"`

	Today     DayView  `json:"today"` // so far
	Yesterday DayView  `json:"yesterday"`
	Water     Usual    `json:"water_week_l"` // through the softener
	PastWeek  Number   `json:"past_week_l"`  // water past it in the last seven full days
	Salt      Usual    `json:"salt_week_kg"`
	Heavy     Number   `json:"heavy_day_l"`
	Weekday   []Number `json:"weekday_l"` // usual use, Sunday first

	Bed      BedView  `json:"bed"`
	Next     Due      `json:"next_regeneration"`
	Tank     TankView `json:"tank"`
	RunsOut  Forecast `json:"salt_runs_out"`
	Explains Explains `json:"salt_explained"`

	Regenerations int `json:"regenerations_seen"`
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

// BedView is the bed's account since the last regeneration.
type BedView struct {
	Since      time.Time `json:"since"`     // end of the last regeneration; zero before one is seen
	Litres     Number    `json:"litres"`    // through the bed since; at least, where minutes are missing
	Removed    Number    `json:"removed_g"` // hardness as CaCO3, iron and manganese counted in
	Restored   Number    `json:"restored_g"`
	Left       Number    `json:"left_g"`
	Scatter    Number    `json:"scatter_g"` // standard deviation of what is left, from that of published capacities
	LeftLitres Number    `json:"left_l"`    // litres of raw water that what is left will soften
	Assumed    bool      `json:"assumed"`   // rests on the programme's salt
	Seen       Number    `json:"seen"`      // share of the minutes since with known water
}

// TankView is the salt in the tank.
type TankView struct {
	Basis   SaltBasis `json:"basis"`
	Salt    Number    `json:"salt_kg"`
	Spread  Number    `json:"spread_kg"` // standard deviation
	Room    Number    `json:"room_kg"`   // until the tank is as full as people fill it
	Hinted  int       `json:"hints"`     // rises of the brine that may have been a filling nobody reported
	Filled  time.Time `json:"filled"`    // last filling known; zero before one
	InSum   float64   `json:"in_kg"`     // filled in all, as far as known
	OutSum  float64   `json:"out_kg"`    // drawn in all
	PerDose Number    `json:"dose_kg"`   // what a regeneration usually takes
}

// Explains is how much of the salt of the last four weeks' whole cycles the water
// used in them explains at the settings.
type Explains struct {
	OK        bool   `json:"ok"`
	Used      Number `json:"used_kg"`
	Explained Number `json:"explained_kg"`
	Share     Number `json:"share"` // at most 1
}

// View reads the books. It changes nothing.
func (l *Ledger) View() Books {
	use := l.Use()
	b := Books{
		Basis: l.basis(), Today: l.dayView(l.Day), Yesterday: l.dayView(l.Day - 1),
		Water:    usual(l.weekSums(func(d *Day) (float64, bool) { return max(0, d.Through), d.full() })),
		Salt:     l.saltWeeks(),
		PastWeek: l.pastWeek(), Heavy: Number(use.Heavy),
		Bed: l.bedView(), Next: l.NextDue(), Tank: l.tankView(), RunsOut: l.RunsOut(), Explains: l.Explains(),
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

// saltWeeks is the salt by week, unknown before a regeneration was seen.
func (l *Ledger) saltWeeks() Usual {
	if l.Past.Regenerations == 0 {
		return usual(nil)
	}
	return usual(l.weekSums(func(d *Day) (float64, bool) { return d.Salt, true }))
}

func (l *Ledger) pastWeek() Number {
	sums := l.weekSums(func(d *Day) (float64, bool) {
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

// bedView reads the bed's account; unknown before a regeneration was seen.
func (l *Ledger) bedView() BedView {
	b := &l.Bed
	unknown := Unknown()
	if b.LastEnd == 0 {
		return BedView{Litres: unknown, Removed: unknown, Restored: unknown, Left: unknown, Scatter: unknown, LeftLitres: unknown, Seen: unknown}
	}
	v := BedView{
		Since:    time.Unix(b.LastEnd, 0).In(l.home.Location),
		Restored: Number(resin.Grams(b.Restored)), Scatter: Number(resin.Grams(b.Restored) * resin.CapacityScatter),
		Litres: unknown, Removed: unknown, Left: unknown, LeftLitres: unknown, Assumed: b.Assumed,
	}
	v.Seen = Number(b.seen(l.Last))
	if l.basis() != ByNoMeter {
		left := b.left(l.Last)
		v.Litres, v.Removed, v.Left = Number(b.Litres), Number(resin.Grams(b.Removed)), Number(resin.Grams(left))
		v.LeftLitres = Number(ratio(left, resin.Equivalents(1, l.RawHardness())))
	}
	return v
}

func (l *Ledger) tankView() TankView {
	kg, spread, by := l.salt()
	s := &l.Salt
	v := TankView{
		Basis: by, Salt: Number(kg), Spread: Number(spread), Room: Number(max(0, l.brim()-kg)),
		Hinted: s.Hints, InSum: s.In, OutSum: s.Out, PerDose: Number(l.dose()),
	}
	if s.FilledAt != 0 {
		v.Filled = time.Unix(s.FilledAt, 0).In(l.home.Location)
	}
	return v
}

// Explains sets the salt of the last four weeks' whole cycles beside what the
// water used in them calls for at the settings: one dose each time the use has
// passed the usable capacity, and where the control waits for its hour half a
// day's use more; no fewer than the override brings. Unknown with fewer than two
// whole cycles, or with known water on fewer than ten of their days.
func (l *Ledger) Explains() Explains {
	c := l.cycles(usualSpan)
	if c.doses < 2 || c.seen < 10 || c.salt <= 0 {
		return Explains{Used: Unknown(), Explained: Unknown(), Share: Unknown()}
	}
	explained := l.dosesFor(c.through/c.days) * c.days * l.home.Softener.SaltDose
	return Explains{OK: true, Used: Number(c.salt), Explained: Number(explained), Share: Number(min(1, explained/c.salt))}
}

// dosesFor is the regenerations a day that litres a day call for at the settings.
func (l *Ledger) dosesFor(litres float64) float64 {
	s := l.home.Softener
	least := 0.0
	if s.DaysOverride > 0 {
		least = 1 / float64(s.DaysOverride)
	}
	if s.Control == detect.Timed {
		return least
	}
	daily := resin.Equivalents(litres, l.RawHardness())
	per := s.Capacity * s.Resin
	if s.Control == detect.MeteredDelayed {
		per = min(per, per*(1-s.Reserve)+daily/2)
	}
	return max(least, daily/per)
}
