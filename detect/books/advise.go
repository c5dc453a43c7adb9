package books

import (
	"math"

	"brinebell/detect"
	"brinebell/detect/resin"
)

// RawView is the water before the softener that the books reckon with, mg/L; each
// as last measured, or as the profile has it.
type RawView struct {
	Hardness         Number `json:"hardness_mg_l"` // as CaCO3, without iron and manganese
	Iron             Number `json:"iron_mg_l"`
	Manganese        Number `json:"manganese_mg_l"`
	HardnessMeasured bool   `json:"hardness_measured"`
	IronMeasured     bool   `json:"iron_measured"`
}

func (l *Ledger) rawView() RawView {
	w := l.RawWater()
	return RawView{Number(w.Hardness), Number(w.Iron), Number(w.Manganese), l.Hardness == l.Hardness, l.Iron == l.Iron}
}

// Water is the raw water in the profile's form.
func (r RawView) Water() detect.Water {
	return detect.Water{Hardness: float64(r.Hardness), Iron: float64(r.Iron), Manganese: float64(r.Manganese)}
}

// Use is what the home draws through its softener, as Ledger.Use.
func (b *Books) Use() resin.Use {
	u := resin.Use{Heavy: float64(b.Heavy)}
	for i := range u.Weekday {
		u.Weekday[i] = math.NaN()
		if i < len(b.Weekday) {
			u.Weekday[i] = float64(b.Weekday[i])
		}
	}
	return u
}

// Advice is the setting a technician would choose for the home's raw water, as
// measured where it was, and the use in these books; as Ledger.Advice.
func (b *Books) Advice(home *detect.Home) resin.Advice {
	return resin.Advise(home, b.Raw.Water(), b.Use())
}
