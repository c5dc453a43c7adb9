package books

import (
	"math"
	"time"

	"brinebell/detect"
	"brinebell/detect/brine"
	"brinebell/detect/resin"
	"brinebell/detect/series"
)

// Ledger is the books of one home. Make it with New, or restore its exported
// fields and Attach the profile.
type Ledger struct {
	home *detect.Home
	tank brine.Tank

	Last     int64  // Unix second of the last minute stepped; 0 before the first
	First    int64  // Unix second of the first minute stepped
	Settings uint64 // mark of the settings the past was learnt under
	Day      int32  // local day of Last, days since 1970-01-01
	DayEnd   int64  // Unix second at which that day ends

	Water WaterBook
	Bed   BedBook
	Salt  SaltBook
	Past  PastBook

	Temperature float64 // of the water, degC, as last measured; NaN before
	Hardness    float64 // raw, mg/L, as last measured; NaN before
	Iron        float64 // raw, mg/L, as last measured; NaN before
}

// PastBook is what past regenerations of this home were like.
type PastBook struct {
	Brine, Refill, Drain, Minutes History
	Regenerations                 int // seen in all
}

// New opens the books of a home of which nothing has been seen yet.
func New(home *detect.Home) *Ledger {
	nan := math.NaN()
	l := &Ledger{Temperature: nan, Hardness: nan, Iron: nan}
	l.Bed = BedBook{Restored: nan, Standby: nan}
	l.Salt = newSaltBook()
	l.Water.forget()
	l.Attach(home)
	return l
}

// Attach gives the ledger its home's profile: after a restore, and when the
// profile changes. Settings that change what a regeneration is like make the
// ledger forget what they used to be like.
func (l *Ledger) Attach(home *detect.Home) {
	l.home = home
	l.tank = brine.NewTank(home.BrineTank)
	mark := settingsMark(home)
	if l.Settings != 0 && l.Settings != mark {
		l.Past = PastBook{Regenerations: l.Past.Regenerations}
	}
	l.Settings = mark
}

// settingsMark folds the settings that shape a regeneration into one number, by
// the FNV-1a hash.
func settingsMark(home *detect.Home) uint64 {
	const offset, prime = 14695981039346656037, 1099511628211
	mark := uint64(offset)
	add := func(v float64) {
		mark = (mark ^ math.Float64bits(v)) * prime
	}
	s, t := home.Softener, home.BrineTank
	for _, v := range []float64{s.SaltDose, s.Resin, t.Diameter, t.Grid, t.Well, t.SaltVoid} {
		add(v)
	}
	for _, p := range s.Cycle {
		for _, c := range []byte(p.Phase) {
			add(float64(c))
		}
		add(p.Flow)
		add(float64(p.Duration))
	}
	return mark | 1
}

// Step books one minute. Minutes come in order; one that is not later than the
// last is ignored. Minutes left out are taken as unknown.
func (l *Ledger) Step(m *series.Minute) {
	at := m.Start.Unix()
	if at <= l.Last {
		return
	}
	if l.First == 0 {
		l.First = at
	}
	if at >= l.DayEnd {
		l.turnDay(m.Start)
	}
	l.note(m)
	through, past := l.Water.read(m)
	l.Water.pass(l.Last, at, through)
	l.Water.book(l.Day, through, past)
	if through == through {
		l.Bed.take(through, l.RawHardness())
	}
	l.watchSalt(m, at)
	l.Last = at
}

// note keeps what is measured now and then.
func (l *Ledger) note(m *series.Minute) {
	if v, ok := m.Get(detect.WaterTemperature); ok {
		l.Temperature = v
	}
	if v, ok := m.Get(detect.RawHardness); ok {
		l.Hardness = v
	}
	if v, ok := m.Get(detect.RawIron); ok {
		l.Iron = v
	}
}

// RawWater is the water before the softener: as last measured, else as the
// profile has it.
func (l *Ledger) RawWater() detect.Water {
	w := l.home.Water
	if l.Hardness == l.Hardness {
		w.Hardness = l.Hardness
	}
	if l.Iron == l.Iron {
		w.Iron = l.Iron
	}
	return w
}

// RawHardness is that water's hardness with iron and manganese counted in, mg/L.
func (l *Ledger) RawHardness() float64 { return resin.DefaultCompensation.Hardness(l.RawWater()) }

// turnDay moves to the local day of t.
func (l *Ledger) turnDay(t time.Time) {
	y, month, d := t.In(l.home.Location).Date()
	l.Day = civilDay(y, month, d)
	l.DayEnd = time.Date(y, month, d+1, 0, 0, 0, 0, l.home.Location).Unix()
	l.Water.open(l.Day)
}

// civilDay numbers the days of the calendar from 1970-01-01.
func civilDay(y int, m time.Month, d int) int32 {
	return int32(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// civilDate is civilDay's inverse, at UTC.
func civilDate(day int32) time.Time { return time.Unix(int64(day)*86400, 0).UTC() }

// dayOf is the local day of t.
func (l *Ledger) dayOf(t time.Time) int32 { return civilDay(t.In(l.home.Location).Date()) }
