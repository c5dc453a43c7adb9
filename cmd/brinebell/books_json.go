package main

import (
	"encoding/json"
	"io"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/regeneration"
	"brinebell/detect/resin"
)

// accountJSON is an account in canonical units; null is what nobody saw.
type accountJSON struct {
	Home          string             `json:"home"`
	Books         books.Books        `json:"books"`
	Regenerations []regenerationJSON `json:"regenerations"`
	Advice        adviceJSON         `json:"settings_advice"`
}

type regenerationJSON struct {
	Start       time.Time           `json:"start"`
	End         time.Time           `json:"end"`
	Ending      regeneration.Ending `json:"ending"`
	Confidence  books.Number        `json:"confidence"`
	Phases      []phaseJSON         `json:"phases"`
	LevelStart  books.Number        `json:"level_start_mm"`
	LevelLowest books.Number        `json:"level_lowest_mm"`
	LevelEnd    books.Number        `json:"level_end_mm"`
	Entry       *books.Entry        `json:"entry"` // null when it was not booked
}

type phaseJSON struct {
	Phase   detect.Phase `json:"phase"`
	Start   time.Time    `json:"start"`
	Minutes books.Number `json:"minutes"`
	Drain   books.Number `json:"drain_l"`
	Brine   books.Number `json:"brine_l"` // out of the tank, below zero into it
}

type adviceJSON struct {
	Hardness books.Number `json:"hardness_mg_l"` // iron and manganese counted in
	Present  settingJSON  `json:"present"`
	Advised  settingJSON  `json:"advised"`
	Saving   books.Number `json:"saving_per_year"`
	Currency string       `json:"currency"`
	Notes    []resin.Note `json:"notes"`
}

type settingJSON struct {
	Capacity books.Number `json:"capacity_eq_l"`
	Dose     books.Number `json:"salt_dose_kg"`
	Reserve  books.Number `json:"reserve"`
	Override int          `json:"days_override"`
	Days     books.Number `json:"days_between"`
	Salt     books.Number `json:"salt_kg_per_year"`
	Water    books.Number `json:"water_l_per_year"`
	Cost     books.Number `json:"cost_per_year"`
}

func (a *account) writeJSON(out io.Writer) error {
	doc := accountJSON{Home: a.home.ID, Books: a.books, Regenerations: []regenerationJSON{}, Advice: adviceOf(a.advice(), a.home.Costs.Currency)}
	for i := range a.regenerations {
		doc.Regenerations = append(doc.Regenerations, regenerationOf(&a.regenerations[i]))
	}
	enc := json.NewEncoder(out)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(doc)
}

func regenerationOf(r *bookedRegeneration) regenerationJSON {
	rec := &r.record
	out := regenerationJSON{Start: rec.Start.UTC(), End: rec.End.UTC(), Ending: rec.Ending, Confidence: books.Number(rec.Confidence), Phases: []phaseJSON{},
		LevelStart: books.Number(rec.LevelStart), LevelLowest: books.Number(rec.LevelLowest), LevelEnd: books.Number(rec.LevelEnd), Entry: r.entry}
	for _, p := range rec.Phases {
		out.Phases = append(out.Phases, phaseJSON{p.Name, p.Start.UTC(), books.Number(p.Duration.Minutes()), books.Number(p.DrainLitres), books.Number(p.BrineLitres)})
	}
	return out
}

func adviceOf(a resin.Advice, currency string) adviceJSON {
	return adviceJSON{books.Number(a.Hardness), settingOf(a.Present), settingOf(a.Advised), books.Number(a.Saving()), currency, append([]resin.Note{}, a.Notes...)}
}

func settingOf(s resin.Setting) settingJSON {
	return settingJSON{books.Number(s.Capacity), books.Number(s.Dose), books.Number(s.Reserve), s.DaysOverride,
		books.Number(s.Days), books.Number(s.SaltPerYear), books.Number(s.WaterYear), books.Number(s.CostPerYear)}
}

// advice is what a technician would set for the water and use in the books.
func (a *account) advice() resin.Advice { return a.books.Advice(&a.home) }

// use is what the home draws, by the books.
func (a *account) use() resin.Use { return a.books.Use() }

// water is the raw water that the books reckon with; measured says whether its
// hardness was, and is not the profile's.
func (a *account) water() (w detect.Water, measured bool) {
	if a.books.At.IsZero() { // nothing is booked: there is the profile only
		return a.home.Water, false
	}
	return a.books.Raw.Water(), a.books.Raw.HardnessMeasured
}
