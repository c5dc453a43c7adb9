package finding

import (
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/regeneration"
)

// drew plays one regeneration that drew so many litres of brine.
func (t *tap) drew(litres float64) *tap {
	t.view.Record = &regeneration.Record{Start: t.minute.Start, End: t.minute.Start.Add(80 * time.Minute), Ending: regeneration.Completed,
		Confidence: 0.99, BrineLitres: litres, DrainLitres: 240, RefillLitres: litres}
	t.run(1, nil)
	t.view.Record = nil
	return t.run(3*24*60, nil)
}

// The default dose, 2.7 kg, is 8.5 L of saturated brine (317.5 g/L, computed
// from published densities and solubility).
const sound = 8.5

func TestSaltDraw(t *testing.T) {
	for _, c := range []struct {
		name  string
		drawn []float64
		want  string
	}{
		{"sound", []float64{8.5, 8.9, 8.2, 8.6, 8.4, 8.7}, ""},
		{"a tank whose pores differ", []float64{7, 7.1, 6.8, 7.2, 7, 6.9, 7}, ""},
		{"half, at the first", []float64{sound / 2}, "+salt_draw_low "},
		{"nothing", []float64{8.5, 0}, "+salt_draw_low "},
		{"double, at once", []float64{8.5, 8.4, 17}, "+salt_draw_high "},
		{"a quarter less, by the third", []float64{8.5, 8.4, 8.6, 8.5, 6.4, 6.3, 6.4}, "+salt_draw_low "},
		{"mended", []float64{8.5, 8.4, 2, 8.5}, "+salt_draw_low -salt_draw_low "},
	} {
		x := newTap(&SaltDrawWatch{}, detect.DefaultHome("h", time.UTC))
		for _, l := range c.drawn {
			x.drew(l)
		}
		if got := x.raisings(); got != c.want {
			t.Errorf("%s: said %q, want %q", c.name, got, c.want)
		}
	}
}

// raisings is said without the updates of what stands already.
func (t *tap) raisings() string {
	s, standing := "", false
	for _, v := range t.verdicts {
		if v.Standing != standing {
			s += map[bool]string{true: "+", false: "-"}[v.Standing] + string(v.Kind) + " "
		}
		standing = v.Standing
	}
	return s
}

func TestSaltDrawNeedsASureRecord(t *testing.T) {
	x := newTap(&SaltDrawWatch{}, detect.DefaultHome("h", time.UTC))
	for _, spoil := range []func(r *regeneration.Record){
		func(r *regeneration.Record) { r.Confidence = 0.5 },
		func(r *regeneration.Record) { r.Ending = regeneration.CutShort },
	} {
		r := regeneration.Record{Start: x.minute.Start, Confidence: 0.99, BrineLitres: 1}
		spoil(&r)
		x.view.Record = &r
		x.run(1, nil)
	}
	if len(x.verdicts) > 0 {
		t.Error(x.said())
	}
}

// In control, signals are rare: a hundred homes, each off from its profile as
// profiles are, with a hundred sound regenerations each.
func TestSaltDrawFalseAlarms(t *testing.T) {
	raised := 0
	for seed := range uint64(100) {
		r := rand.New(rand.NewPCG(seed, 5))
		own := 1 + profileScatter*r.NormFloat64()
		x := newTap(&SaltDrawWatch{}, detect.DefaultHome("h", time.UTC))
		for range 100 {
			x.view.Record = &regeneration.Record{Start: x.minute.Start, Confidence: 0.99, BrineLitres: sound * own * (1 + 0.07*r.NormFloat64())}
			x.run(1, nil)
		}
		raised += strings.Count(x.raisings(), "+")
	}
	if raised > 8 { // 0.06 a home-year at 80 regenerations a year
		t.Errorf("%d false alarms in 10,000 sound regenerations", raised)
	}
}

// pulled plays one regeneration that drew a sound dose in so many minutes.
func (t *tap) pulled(minutes float64) *tap {
	t.view.Record = &regeneration.Record{Start: t.minute.Start, End: t.minute.Start.Add(80 * time.Minute), Ending: regeneration.Completed,
		Confidence: 0.99, BrineLitres: sound, DrainLitres: 240, RefillLitres: sound, DrawMinutes: minutes}
	t.run(1, nil)
	t.view.Record = nil
	return t.run(3*24*60, nil)
}

// A draw that takes ever longer is told while it still draws enough.
func TestSlowDraw(t *testing.T) {
	for _, c := range []struct {
		name    string
		minutes []float64
		want    string
	}{
		{"as ever", []float64{16, 17, 15, 16, 17, 14, 16, 16}, ""},
		{"a home that is slow", []float64{40, 42, 39, 40, 41, 40, 38}, ""},
		{"twice as long", []float64{16, 17, 15, 16, 32, 31, 33}, "+salt_draw_low "},
		{"little by little", []float64{16, 17, 15, 16, 17, 20, 22, 25, 27, 30}, "+salt_draw_low "},
		{"pressure is low for a while", []float64{16, 17, 15, 16, 19, 19, 20, 16, 17}, ""},
		{"mended", []float64{16, 17, 15, 16, 40, 40, 16}, "+salt_draw_low -salt_draw_low "},
	} {
		x := newTap(&SaltDrawWatch{}, detect.DefaultHome("h", time.UTC))
		for _, m := range c.minutes {
			x.pulled(m)
		}
		if got := x.raisings(); got != c.want {
			t.Errorf("%s: said %q, want %q", c.name, got, c.want)
		}
		for _, v := range x.verdicts {
			if v.Standing && v.Severity != detect.Plan {
				t.Errorf("%s: %s", c.name, v.Severity)
			}
		}
	}
}
