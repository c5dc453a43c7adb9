package web

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
)

// books is what the ledger says to the household; what it does not know is said
// to be unknown, with what would help.
func (r reader) books(b books.Books) []fact {
	return []fact{
		{"Soft water left", r.softLeft(b)},
		{"Next regeneration", r.nextRegeneration(b.Next)},
		{"Salt in the tank", r.saltLeft(b.Tank)},
		{"Salt lasts until", r.saltLasts(b.RunsOut, b.At)},
		{"Salt that the water used explains", r.explained(b.Explains)},
	}
}

func (r reader) softLeft(b books.Books) string {
	switch left := float64(b.Bed.LeftLitres); {
	case b.Basis == books.ByNoMeter:
		return "Not known: no meter sees the water."
	case b.Bed.Since.IsZero():
		return "Not known until a regeneration is seen."
	case math.IsNaN(left):
		return "Not known yet."
	case left <= 0:
		return "None: by the books the resin is used up."
	default:
		return "About " + r.amount(left, detect.Volume) + " until the resin is used up"
	}
}

// dueWords are what brings a regeneration on.
var dueWords = map[books.DueReason]string{
	books.DueByUse:      "the capacity will be down to its reserve",
	books.DueByOverride: "the most days between two will have passed",
	books.DueByInterval: "it comes every so many days",
}

func (r reader) nextRegeneration(d books.Due) string {
	if !d.OK {
		return "Not known yet: it takes a regeneration and some days of use."
	}
	return "Expected " + r.moment(d.At) + ", when " + dueWords[d.Why]
}

// saltLeft says whose word it is, as nobody looks into the tank.
func (r reader) saltLeft(t books.TankView) string {
	if t.Basis == books.ByNothing || !t.Salt.Known() {
		return "Not known: no sensor hangs over the salt, and no filling was told."
	}
	how := "by what was filled in and drawn"
	if t.Basis == books.BySensor {
		how = "by the sensor over it"
	}
	return "About " + r.amount(float64(t.Salt), detect.Mass) + ", " + how + ", give or take " + r.amount(float64(t.Spread), detect.Mass)
}

// farDays is how many days ahead a date needs its year.
const farDays = 300

// dayAhead writes a day to come, with its year where it is far.
func (r reader) dayAhead(t, now time.Time) string {
	if t.Before(now.AddDate(0, 0, farDays)) {
		return r.day(t)
	}
	return r.day(t) + space + t.In(r.loc).Format("2006")
}

func (r reader) saltLasts(f books.Forecast, now time.Time) string {
	if !f.OK {
		return "Not known yet."
	}
	if f.Expected.IsZero() {
		return "Longer than can be foreseen"
	}
	band := "nine times out of ten after " + r.dayAhead(f.Early, now)
	if !f.Late.IsZero() {
		band = "four times out of five between " + r.dayAhead(f.Early, now) + " and " + r.dayAhead(f.Late, now)
	}
	return r.dayAhead(f.Expected, now) + "; " + band
}

func (r reader) explained(e books.Explains) string {
	if !e.OK {
		return "Not known yet: it takes two whole cycles."
	}
	return strconv.Itoa(percent(float64(e.Share))) + " % of the " + r.amount(float64(e.Used), detect.Mass) + " used in the last four weeks"
}

// reasonWords are what can be out of proportion in a regeneration.
var reasonWords = map[books.Reason]string{
	books.BrineNone:          "no brine was drawn",
	books.BrineLow:           "less brine than usual",
	books.BrineHigh:          "more brine than usual",
	books.BrineOffProgramme:  "its usual brine is not what the profile says",
	books.RefillNone:         "no refill",
	books.RefillLow:          "less refill than usual",
	books.RefillHigh:         "more refill than usual",
	books.RefillOffProgramme: "its usual refill is not what the profile says",
	books.DrainNone:          "no water to the drain",
	books.DrainLow:           "less water to the drain than usual",
	books.DrainHigh:          "more water to the drain than usual",
	books.DrainOffProgramme:  "its usual drain water is not what the profile says",
	books.PhaseMissing:       "a phase was missing",
	books.CutShort:           "cut short",
	books.NeverEnded:         "it did not end",
	books.OffHour:            "at another hour",
	books.LevelLower:         "the brine stands lower than before",
	books.LevelHigher:        "the brine stands higher than before",
}

// Reasons says in a few words each what was missing or out of proportion in a
// regeneration, but for what its ending says already.
func Reasons(e books.Entry) []string {
	var out []string
	for _, why := range e.Reasons {
		switch why {
		case books.CutShort, books.NeverEnded:
		case books.PhaseMissing:
			out = append(out, missingWords(e)...)
		default:
			out = append(out, sayReason(why))
		}
	}
	return out
}

func sayReason(why books.Reason) string {
	if words, ok := reasonWords[why]; ok {
		return words
	}
	return strings.ReplaceAll(string(why), "_", " ")
}

// missingWords names the missing phases, but for those whose litres say it.
func missingWords(e books.Entry) (out []string) {
	for _, p := range e.Missing {
		said := p == detect.Refill && slices.Contains(e.Reasons, books.RefillNone) || p == detect.BrineDraw && slices.Contains(e.Reasons, books.BrineNone)
		if !said {
			out = append(out, "no "+strings.ToLower(phaseName(p)))
		}
	}
	return out
}
