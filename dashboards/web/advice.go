package web

import (
	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/resin"
)

// adviceView is how the softener would better be set, and what that saves.
type adviceView struct {
	Sentence string
	Rows     [][]string // what, as set now, as advised
	Notes    []string
}

// worthwhile is the share of the yearly cost below which a change of settings is
// not worth anybody's time.
const worthwhile = 0.05

// advice is the setting that a technician would choose for the home's water and
// use; nil when its use is not known yet.
func (r reader) advice(h detect.Home, b books.Books) *adviceView {
	use := b.Use()
	if !(use.Daily() > 0) {
		return nil
	}
	a := b.Advice(&h)
	v := &adviceView{Sentence: r.Say("advice.fits", "cost", r.money(a.Present.CostPerYear, h.Costs.Currency))}
	if a.Saving() > worthwhile*a.Present.CostPerYear {
		v.Sentence = r.Say("advice.saves", "saving", r.money(a.Saving(), h.Costs.Currency), "cost", r.money(a.Present.CostPerYear, h.Costs.Currency))
		v.Rows = r.settings(a)
	}
	for _, n := range a.Notes {
		v.Notes = append(v.Notes, r.Or("advice.note."+string(n), spoken(string(n))))
	}
	return v
}

// settings sets the present setting beside the advised one.
func (r reader) settings(a resin.Advice) [][]string {
	row := func(key string, write func(resin.Setting) string) []string {
		return []string{r.Say(key), write(a.Present), write(a.Advised)}
	}
	return [][]string{
		row("advice.dose", func(s resin.Setting) string { return r.amount(s.Dose, detect.Mass) }),
		row("advice.capacity", func(s resin.Setting) string { return r.Rounded(s.Capacity, 2) + space + "eq/L" }),
		row("advice.reserve", func(s resin.Setting) string { return r.share(s.Reserve) }),
		row("advice.override", func(s resin.Setting) string { return r.Say("span.days", "n", s.DaysOverride) }),
		row("advice.days", func(s resin.Setting) string { return r.Rounded(s.Days, 1) }),
		row("advice.salt", func(s resin.Setting) string { return r.about(s.SaltPerYear, detect.Mass) }),
		row("advice.water", func(s resin.Setting) string { return r.about(s.WaterYear, detect.Volume) }),
		{r.Say("advice.hardness"), "", r.amount(a.Hardness, detect.Hardness)},
	}
}
