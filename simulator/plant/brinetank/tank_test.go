package brinetank

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"brinebell/detect"
)

func tankShape() detect.BrineTank { return detect.DefaultHome("a", time.UTC).BrineTank }

func newTestTank(kg float64) *Tank {
	s := tankShape()
	return New(s, nacl, s.SaltVoid, 50, 18, kg, 50)
}

func wait(k *Tank, hours float64) {
	for range int(hours * 60) {
		k.Dissolve(60)
	}
}

func TestMassesStayInTheBooks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := newTestTank(rapid.Float64Range(0, 90).Draw(t, "salt"))
		salt, water := k.Salt()+k.Dissolved(), k.Water()
		for range rapid.IntRange(1, 40).Draw(t, "acts") {
			amount := rapid.Float64Range(0, 12).Draw(t, "amount")
			switch rapid.IntRange(0, 4).Draw(t, "act") {
			case 0:
				k.Fill(amount)
				water += amount * densityWater
			case 1:
				held := k.Water()
				_, got := k.Draw(amount)
				salt -= got
				water -= held - k.Water()
			case 2:
				k.Dissolve(amount * 600)
			case 3:
				held := k.Salt()
				k.AddSalt(amount)
				salt += k.Salt() - held
			case 4:
				k.SetBridge(amount / 12)
				k.SetMush(1 - amount/12)
			}
			if k.Level() > 0.9*tankShape().Height+1e-6 {
				t.Fatalf("stands at %v mm", k.Level())
			}
			if k.Overflow() > 0 {
				water, salt = k.Water(), k.Salt()+k.Dissolved()
			}
			if d := salt - k.Salt() - k.Dissolved(); math.Abs(d) > 1e-6 {
				t.Fatalf("%g kg of salt missing", d)
			}
			if d := water - k.Water(); math.Abs(d) > 1e-6 {
				t.Fatalf("%g kg of water missing", d)
			}
			if k.Strength() > 0.3185 {
				t.Fatalf("holds %v kg/L", k.Strength())
			}
		}
	})
}

func TestBrineStrengthensOverHours(t *testing.T) {
	k := newTestTank(80)
	k.Draw(100)
	k.Fill(8)
	weak := k.Strength()
	wait(k, 2)
	twoHours := k.Strength()
	wait(k, 8)
	if weak > 0.2 || twoHours < 0.9*0.3175 || twoHours > 0.315 {
		t.Errorf("%.3f kg/L at once, %.3f after two hours", weak, twoHours)
	}
	if math.Abs(k.Strength()/0.3175-1) > 0.005 {
		t.Errorf("%.4f kg/L after a night, saturated brine holds 0.3175", k.Strength())
	}
	if !k.Calm() {
		t.Error("never comes to rest")
	}
}

// In a tank 460 mm wide, salt leaves 42 % and the well to the liquid: 8 L of
// water make 8 x 1.130 L of brine (see TestSaturatedBrine), standing in
// 0.42 (0.1662 - 0.00785) + 0.00785 m2.
func TestLiquidStandsInThePores(t *testing.T) {
	k := newTestTank(80)
	k.Fill(8)
	wait(k, 12)
	area := 0.42*(math.Pi/4*0.46*0.46-math.Pi/4*0.01) + math.Pi/4*0.01
	want := 50 + 8*1.130/area
	if math.Abs(k.Level()-want) > 2 {
		t.Errorf("stands at %.1f mm, geometry says %.1f", k.Level(), want)
	}
	drawn, salt := k.Draw(100)
	if math.Abs(k.Level()-50) > 0.01 || math.Abs(salt/drawn/0.3175-1) > 0.005 {
		t.Errorf("drawn to %.1f mm, %.4f kg/L", k.Level(), salt/drawn)
	}
	if more, _ := k.Draw(1); more > 1e-9 {
		t.Errorf("drew %v L of air", more)
	}
}

func TestLevelAndLitresAreInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tank := tankShape()
		tank.Grid = rapid.Float64Range(0, 200).Draw(t, "grid")
		s := newShape(tank, nacl.crystal, tank.SaltVoid)
		top := rapid.Float64Range(0, 800).Draw(t, "top")
		level := rapid.Float64Range(0, 800).Draw(t, "level")
		if got := s.level(s.litres(level, top), top); math.Abs(got-level) > 1e-6 {
			t.Errorf("level %v comes back as %v", level, got)
		}
	})
}

func TestBridgeStandsWhileBrineWeakens(t *testing.T) {
	k := newTestTank(60)
	k.SetBridge(1)
	top := k.SaltLevel()
	for range 5 {
		k.Draw(100)
		k.Fill(7.6)
		wait(k, 24)
	}
	if k.SaltLevel() != top || k.Strength() > 0.02 {
		t.Errorf("salt at %.0f of %.0f mm, brine %.3f kg/L", k.SaltLevel(), top, k.Strength())
	}
	k.SetBridge(0)
	wait(k, 24)
	if k.SaltLevel() >= top || k.Strength() < 0.31 {
		t.Errorf("broken: salt at %.0f of %.0f mm, brine %.3f kg/L", k.SaltLevel(), top, k.Strength())
	}
}

func TestMushLiftsTheLevelAndWeakensTheBrine(t *testing.T) {
	plain, mush := newTestTank(60), newTestTank(60)
	mush.SetMush(0.8)
	for _, k := range []*Tank{plain, mush} {
		k.Draw(100)
		k.Fill(7)
		wait(k, 2)
	}
	if mush.Level() < plain.Level()+50 || mush.Strength() > 0.85*plain.Strength() {
		t.Errorf("level %.0f against %.0f mm, %.3f against %.3f kg/L", mush.Level(), plain.Level(), mush.Strength(), plain.Strength())
	}
}

func TestLastSaltComesToAnEnd(t *testing.T) {
	k := newTestTank(3)
	for range 10 {
		k.Draw(100)
		k.Fill(8)
		wait(k, 24)
	}
	if k.Salt() != 0 || k.Strength() > 0.01 || !k.Calm() {
		t.Errorf("%.4f kg left, %.3f kg/L, calm %v", k.Salt(), k.Strength(), k.Calm())
	}
}

func TestTankRunsOver(t *testing.T) {
	k := newTestTank(40)
	for range 40 {
		k.Fill(5)
	}
	over := k.Overflow()
	if k.Overflow() != 0 {
		t.Error("ran over twice")
	}
	if over < 50 || math.Abs(k.Level()-0.9*tankShape().Height) > 0.01 {
		t.Errorf("%.0f L ran over, stands at %.0f mm", over, k.Level())
	}
}
