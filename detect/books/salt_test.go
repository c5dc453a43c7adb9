package books

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"pgregory.net/rapid"

	"brinebell/detect"
	"brinebell/detect/series"
)

// barrel is a brine tank kept by mass, not by the relations under test: salt and
// water go in and out, and the level is found by filling it millimetre by
// millimetre. Handbook figures at 20 degC: a litre of water takes up 0.359 kg and
// becomes 1.130 L.
type barrel struct {
	tank  detect.BrineTank
	salt  float64 // kg, solid
	brine float64 // L, saturated
}

func (b *barrel) refill(water float64) {
	b.salt -= 0.359 * water
	b.brine += 1.130 * water
}

// draw takes litres out and returns the salt in them.
func (b *barrel) draw(litres float64) float64 {
	b.brine -= litres
	return litres * 0.359 / 1.130
}

func (b *barrel) held() float64 { return b.salt + b.brine*0.359/1.130 }

// level fills the barrel in layers of a tenth of a millimetre, salt in all.
func (b *barrel) level() float64 {
	const layer = 0.1
	well := math.Pi * b.tank.Well * b.tank.Well / 4
	area := math.Pi * b.tank.Diameter * b.tank.Diameter / 4
	filled, height := 0.0, 0.0
	for filled < b.brine {
		room := area
		if height >= b.tank.Grid {
			room = well + (area-well)*b.tank.SaltVoid
		}
		filled += room * layer * 1e-6
		height += layer
	}
	return height
}

// Salt in is salt out and salt left, within what the level sensor resolves: two
// levels to a regeneration, each good to its noise.
func TestMassBalanceCloses(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := home()
		h.BrineTank.Grid = rapid.Float64Range(0, 150).Draw(t, "grid")
		h.BrineTank.SaltVoid = rapid.Float64Range(0.35, 0.48).Draw(t, "void")
		noise := rapid.Float64Range(0, 5).Draw(t, "noise")
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 3))
		b := &barrel{tank: h.BrineTank, salt: 120, brine: 22}
		l := New(h)
		l.Counted(noon, b.held())
		start := b.held()
		n := rapid.IntRange(1, 20).Draw(t, "regenerations")
		booked, out := 0.0, 0.0
		read := func() float64 { return b.level() + noise*r.NormFloat64() }
		for i := range n {
			rec := record(noon.AddDate(0, 0, 4*i+1))
			rec.BrineLitres = nan
			rec.LevelStart = read()
			out += b.draw(6 + 4*r.Float64())
			rec.LevelLowest = read()
			b.refill(7.6)
			booked += float64(l.Regeneration(rec).Salt)
		}
		left := float64(l.View().Tank.Salt)
		if math.Abs(start-booked-left) > 1e-9 {
			t.Fatalf("%v kg in, %v kg booked out, %v kg left", start, booked, left)
		}
		perMM := 0.1662 * 0.3175 // a whole tank's litre per mm: at most so much a mm is worth
		resolution := 0.003*out + perMM*(0.2*float64(n)+5*noise*math.Sqrt(2*float64(n)))
		if math.Abs(booked-out) > resolution || math.Abs(left-b.held()) > resolution {
			t.Fatalf("booked %.3f of %.3f kg out, %.3f of %.3f kg left: resolution is %.3f", booked, out, left, b.held(), resolution)
		}
	})
}

func TestSaltOfAnUnknownTank(t *testing.T) {
	l := New(home())
	if v := l.View().Tank; v.Salt.Known() || v.Basis != ByNothing {
		t.Fatal("nobody said what is in the tank")
	}
	l.Filled(noon, 25)
	v := l.View().Tank
	if v.Salt < 25 || v.Spread < 20 {
		t.Errorf("one bag into an unknown tank makes %v ± %v kg", v.Salt, v.Spread)
	}
	l.Counted(noon, 100)
	before := l.View().Tank
	l.Regeneration(record(noon.Add(time.Hour)))
	after := l.View().Tank
	near(t, "salt after one dose", after.Salt, 97.3, 0.02)
	if after.Spread <= before.Spread {
		t.Error("every dose that is reckoned makes the reckoning less sure")
	}
}

// level is a minute of the tank's sensors; NaN is not measured.
func level(l *Ledger, at time.Time, brine, top float64) {
	m := series.NewMinute(at)
	m.Values[detect.BrineLevel], m.Values[detect.SaltLevel] = brine, top
	l.Step(&m)
}

func TestASensorSeesTheFilling(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	for _, every := range []time.Duration{time.Minute, time.Hour} {
		l := New(home())
		at := noon
		for ; at.Before(noon.AddDate(0, 0, 2)); at = at.Add(every) {
			level(l, at, 200, 300+4*r.NormFloat64())
		}
		before := l.View().Tank
		for end := at.AddDate(0, 0, 2); at.Before(end); at = at.Add(every) {
			level(l, at, 200, 420+4*r.NormFloat64())
		}
		after := l.View().Tank
		bag := 120 * 0.158336 * 0.58 * 2.165 // mm, L/mm outside the well, solid share, kg/L
		near(t, "filled", Number(after.InSum), bag, 0.1*bag)
		near(t, "gained", after.Salt-before.Salt, bag, 0.1*bag)
		if after.Basis != BySensor || after.Spread < 0.1*after.Salt || after.Filled.IsZero() {
			t.Errorf("%+v", after)
		}
	}
}

// The brine rises at once when pellets fall into it. A refill does that too; it
// is no filling once its regeneration is known.
func TestARiseOfTheBrineIsOnlyAHint(t *testing.T) {
	for name, refill := range map[string]bool{"filling": false, "refill": true} {
		l := New(home())
		l.Counted(noon, 40)
		at := noon
		for ; at.Before(noon.Add(5 * time.Hour)); at = at.Add(time.Minute) {
			level(l, at, 150, nan)
		}
		rise := at
		for ; at.Before(rise.Add(20 * time.Hour)); at = at.Add(time.Minute) {
			level(l, at, 190, nan)
			if refill && at.Equal(rise.Add(time.Hour)) {
				l.Regeneration(record(rise.Add(-75 * time.Minute)))
			}
		}
		v := l.View().Tank
		if got := v.Hinted; (got == 1) == refill {
			t.Errorf("%s: %d hints", name, got)
		}
		if !refill && (v.Spread < 20 || v.Salt <= 40) {
			t.Errorf("after a hint the salt is still %v ± %v kg", v.Salt, v.Spread)
		}
	}
}

// Potassium chloride: 8.5 L at 15 degC and 286 g/L (CRC Handbook solubility, 98th
// ed., and density, 102nd ed., between 10 and 20 degC) hold 2.43 kg.
func TestPotassiumChlorideIsWeighedAsSuch(t *testing.T) {
	h := home()
	h.Softener.Salt = detect.PotassiumChloride
	near(t, "salt", New(h).Regeneration(record(noon)).Salt, 2.43, 0.03)
}
