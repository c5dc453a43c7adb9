package brine

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"brinebell/detect"
)

var ordinary = detect.BrineTank{Diameter: 460, Height: 840, Grid: 100, Float: 350, Well: 100, SaltVoid: 0.42}

// The reference here is plain geometry, worked by hand: a cylinder of 460 mm
// holds 0.166190 L per mm, its well of 100 mm 0.007854 L per mm.
func TestVolumeByHand(t *testing.T) {
	tank := NewTank(ordinary)
	for _, c := range []struct{ level, salt, want float64 }{
		{0, 500, 0},
		{-5, 500, 0},
		{100, 500, 16.6190},
		{200, 500, 16.6190 + 100*(0.0078540+0.42*0.1583363)},
		{200, math.NaN(), 16.6190 + 100*(0.0078540+0.42*0.1583363)},
		{200, 150, 16.6190 + 50*(0.0078540+0.42*0.1583363) + 50*0.166190},
		{200, 0, 200 * 0.166190},
		{200, 100, 200 * 0.166190},
	} {
		if got := tank.Volume(c.level, c.salt); math.Abs(got-c.want) > 0.001 {
			t.Errorf("Volume(%v, %v) = %.4f L, want %.4f", c.level, c.salt, got, c.want)
		}
	}
	if !math.IsNaN(tank.Volume(math.NaN(), 300)) || !math.IsNaN(tank.Level(math.NaN(), 300)) {
		t.Error("what is not known must stay unknown")
	}
}

func anyTank(t *rapid.T) Tank {
	d := rapid.Float64Range(150, 700).Draw(t, "diameter")
	return NewTank(detect.BrineTank{
		Diameter: d, Height: 1000,
		Grid:     rapid.Float64Range(0, 250).Draw(t, "grid"),
		Well:     rapid.Float64Range(0, 140).Draw(t, "well"),
		SaltVoid: rapid.Float64Range(0.2, 0.7).Draw(t, "void"),
	})
}

func anySaltTop(t *rapid.T) float64 {
	if rapid.Bool().Draw(t, "salt known") {
		return rapid.Float64Range(0, 1000).Draw(t, "salt top")
	}
	return math.NaN()
}

func TestLevelInvertsVolume(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tank, salt := anyTank(t), anySaltTop(t)
		level := rapid.Float64Range(0, 1000).Draw(t, "level")
		if got := tank.Level(tank.Volume(level, salt), salt); math.Abs(got-level) > 1e-9*(1+level) {
			t.Fatalf("level %v came back as %v", level, got)
		}
	})
}

func TestVolumeRisesWithLevelAndFallsWithSalt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tank, salt := anyTank(t), anySaltTop(t)
		a := rapid.Float64Range(0, 900).Draw(t, "level")
		b := a + rapid.Float64Range(0.1, 100).Draw(t, "rise")
		if tank.Volume(b, salt) <= tank.Volume(a, salt) {
			t.Fatal("more level must be more liquid")
		}
		if tank.Volume(a, salt+50) > tank.Volume(a, salt) {
			t.Fatal("more salt must leave less room for liquid at the same level")
		}
	})
}

// A full 460 x 840 tank of pellets holds about 170 kg of salt: bags of 25 kg
// fill such a tank with six to seven (common practice, no source).
func TestSaltMassOfAFullTank(t *testing.T) {
	tank := NewTank(detect.BrineTank{Diameter: 460, Height: 840, Well: 100, SaltVoid: 0.42})
	if got := tank.SaltMass(840, math.NaN()); got < 150 || got > 185 {
		t.Errorf("a full tank holds %.0f kg", got)
	}
	if dry, wet := tank.SaltMass(600, math.NaN()), tank.SaltMass(600, 200); math.Abs(wet-dry-tank.Volume(200, 600)*SaturatedSaltPerLitre) > 1e-9 {
		t.Error("dissolved salt counts at a litre's worth of saturated brine")
	}
	if !math.IsNaN(tank.SaltMass(math.NaN(), 200)) {
		t.Error("an unknown salt top must leave the mass unknown")
	}
}
