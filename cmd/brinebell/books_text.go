package main

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strconv"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/resin"
)

// unseen stands where nothing was measured.
const unseen = "not seen"

// screenUnits are the units of a text, by the household's system.
var screenUnits = map[detect.Units]map[detect.Dimension]string{
	detect.Metric: {detect.Volume: "L", detect.Mass: "kg", detect.Length: "mm", detect.FlowRate: "L/min", detect.Hardness: "mg/L", detect.Exchange: "eq/L"},
	detect.US: {detect.Volume: "gal", detect.Mass: "lb", detect.Length: "in", detect.FlowRate: "gal/min", detect.Hardness: "gpg",
		detect.Exchange: "grains/ft3"},
}

// amount writes a canonical value in the household's unit.
func (a *account) amount(v books.Number, d detect.Dimension) string {
	if !v.Known() || math.IsInf(float64(v), 0) {
		return unseen
	}
	unit := screenUnits[a.home.Units][d]
	out, err := detect.FromCanonical(float64(v), unit, d)
	if err != nil { // every unit above is in its dimension's table
		return unseen
	}
	text := strconv.FormatFloat(out, 'f', decimals(out), 64)
	if whole, err := strconv.ParseInt(text, 10, 64); err == nil {
		text = thousands(whole)
	}
	return text + " " + unit
}

// decimals leaves three digits that count, and no more than three decimals.
func decimals(v float64) int {
	switch size := math.Abs(v); {
	case size >= 99.95, size < 0.0005:
		return 0
	case size >= 9.995:
		return 1
	case size >= 0.9995:
		return 2
	}
	return 3
}

func (a *account) moment(t time.Time) string {
	return t.In(a.home.Location).Format("Mon 2006-01-02 15:04")
}
func (a *account) day(t time.Time) string { return t.In(a.home.Location).Format("Mon 2006-01-02") }

// writeText writes the account for people.
func (a *account) writeText(out io.Writer) error {
	w := bufio.NewWriter(out)
	fmt.Fprintf(w, "%s (%s)", a.home.Name, a.home.ID)
	if !a.books.At.IsZero() {
		fmt.Fprintf(w, ", as of %s", a.moment(a.books.At))
	}
	fmt.Fprint(w, "\n\n")
	for _, line := range a.lines() {
		fmt.Fprintf(w, "%-13s%s\n", line[0], line[1])
	}
	fmt.Fprintln(w)
	a.writeTable(w)
	return w.Flush()
}

func (a *account) lines() [][2]string {
	return append([][2]string{
		{"Water", a.waterText()}, {"Hardness", a.hardnessText()}, {"Capacity", a.capacityText()}, {"Next", a.nextText()},
		{"Salt", a.saltText()}, {"Runs out", a.runsOutText()}, {"Explained", a.explainedText()},
	}, a.adviceLines()...)
}

var basisWords = map[books.WaterBasis]string{books.ByService: "the softener's meter", books.ByInlet: "the main's meter, all water taken to be softened"}

func (a *account) waterText() string {
	b := a.books
	if b.Basis != books.ByService && b.Basis != books.ByInlet {
		return unseen + ": no meter sees it"
	}
	text := "through the softener " + a.amount(b.Yesterday.Through, detect.Volume) + " yesterday, " + a.amount(b.Water.Week, detect.Volume) + " in the last seven full days"
	if b.Water.Normal.Known() {
		text += ", usually " + a.amount(b.Water.Normal, detect.Volume)
	}
	return text + " (by " + basisWords[b.Basis] + ")"
}

func (a *account) hardnessText() string {
	water, measured := a.water()
	by := "by the profile"
	if measured {
		by = "as last measured"
	}
	return a.amount(books.Number(resin.DefaultCompensation.Hardness(water)), detect.Hardness) + " as CaCO3, iron and manganese counted in, " + by
}

func (a *account) capacityText() string {
	bed := a.books.Bed
	switch {
	case bed.Since.IsZero():
		return unseen + ": it is known once a regeneration was"
	case !bed.LeftLitres.Known():
		return unseen
	}
	text := a.amount(max(0, bed.LeftLitres), detect.Volume) + " of soft water left; " + a.amount(bed.Litres, detect.Volume) + " since the regeneration that ended " + a.moment(bed.Since)
	if bed.Assumed {
		text += ", whose salt nobody measured"
	}
	return text
}

var whyWords = map[books.DueReason]string{books.DueByUse: "by use", books.DueByOverride: "by the most days between two", books.DueByInterval: "by its interval"}

func (a *account) nextText() string {
	if next := a.books.Next; next.OK {
		return "regeneration due " + a.moment(next.At) + ", " + whyWords[next.Why]
	}
	return "not known yet: it takes a regeneration and some days of use"
}

func (a *account) saltText() string {
	t := a.books.Tank
	switch {
	case t.Basis == books.BySensor && t.Salt.Known():
		return a.amount(t.Salt, detect.Mass) + " in the tank by the sensor over it, give or take " + a.amount(t.Spread, detect.Mass)
	case t.Basis == books.ByReckoning && t.Salt.Known():
		return a.amount(t.Salt, detect.Mass) + " in the tank by what was filled in and drawn, give or take " + a.amount(t.Spread, detect.Mass)
	}
	return unseen + ": no sensor hangs over it, and no filling was told"
}

func (a *account) runsOutText() string {
	f := a.books.RunsOut
	switch {
	case !f.OK:
		return "not known yet"
	case f.Expected.IsZero():
		return "later than can be foreseen"
	case f.Late.IsZero():
		return a.day(f.Expected) + "; nine times out of ten after " + a.day(f.Early)
	}
	return a.day(f.Expected) + "; four times out of five between " + a.day(f.Early) + " and " + a.day(f.Late)
}

func (a *account) explainedText() string {
	e := a.books.Explains
	if !e.OK {
		return "not known yet: it takes two whole cycles with known water"
	}
	return fmt.Sprintf("%.0f %% of the %s of salt of the last four weeks by the water used", 100*float64(e.Share), a.amount(e.Used, detect.Mass))
}

var noteWords = map[resin.Note]string{
	resin.NoteCapacityAboveDose: "the capacity set is more than the salt dose maintains",
	resin.NoteBedSmall:          "the resin is too little for three days between regenerations",
	resin.NoteIronHigh:          "more iron than a household softener bears: filter it first",
	resin.NoteIronWeekly:        "iron asks for a regeneration a week",
	resin.NoteSodium:            "softened water holds more sodium than low-sodium guidance: drink from an unsoftened tap",
	resin.NoteUseUnknown:        "the use is not known: no advice",
}

// adviceLines are the setting, the advised one, and what to mind.
func (a *account) adviceLines() (lines [][2]string) {
	advice := a.advice()
	if advice.Present.CostPerYear > 0 {
		lines = append(lines, [2]string{"Set now", a.settingText(advice.Present)}, [2]string{"Advised", a.settingText(advice.Advised)})
	}
	for _, n := range advice.Notes {
		lines = append(lines, [2]string{"Mind", noteWords[n]})
	}
	return lines
}

func (a *account) settingText(s resin.Setting) string {
	return fmt.Sprintf("%s, %s of salt, reserve %.0f %%, at most %d days: %.0f %s a year", a.amount(books.Number(s.Capacity), detect.Exchange),
		a.amount(books.Number(s.Dose), detect.Mass), 100*s.Reserve, s.DaysOverride, s.CostPerYear, a.home.Costs.Currency)
}
