package web

import (
	"math"
	"slices"
	"strings"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
)

// soft is the soft water left, as the household's first gauge.
func (r reader) soft(b books.Books) gauge {
	g := gauge{Name: r.Say("soft.name"), Value: r.Say("number.unknown"), More: r.nextRegeneration(b.Next)}
	switch left := float64(b.Bed.LeftLitres); {
	case b.Basis == books.ByNoMeter:
		g.Note = r.Say("soft.no_meter")
	case b.Bed.Since.IsZero():
		g.Note = r.Say("soft.no_regeneration")
	case math.IsNaN(left):
		g.Note = r.Say("soft.unknown")
	case left <= 0:
		g.Value, g.Note, g.Share, g.Known, g.Low = r.amount(0, detect.Volume), r.Say("soft.none"), 0, true, true
	default:
		g.Value, g.Known = r.about(left, detect.Volume), true
		g.Share = percent(min(1, max(0, float64(b.Bed.Left/b.Bed.Restored))))
		g.Note = r.Say("soft.left", "percent", g.Share)
	}
	return g
}

func (r reader) nextRegeneration(d books.Due) string {
	if !d.OK {
		return r.Say("next.unknown")
	}
	return r.Say("next.due", "when", r.moment(d.At), "why", r.Or("next."+string(d.Why), ""))
}

// salt is the salt left and the day it runs out, as the second gauge. It says
// whose word it is, as nobody looks into the tank.
func (r reader) salt(b books.Books) gauge {
	g := gauge{Name: r.Say("salt.name"), Value: r.Say("number.unknown"), More: r.saltLasts(b.RunsOut, b.At)}
	t := b.Tank
	if t.Basis == books.ByNothing || !t.Salt.Known() {
		g.Note = r.Say("salt.unknown")
		return g
	}
	g.Value, g.Known = r.about(float64(t.Salt), detect.Mass), true
	g.Note = r.Say("salt."+string(t.Basis), "spread", r.amount(float64(t.Spread), detect.Mass))
	if t.Room.Known() {
		g.Share = percent(float64(t.Salt) / max(1, float64(t.Salt+t.Room)))
	}
	g.Low = b.RunsOut.OK && !b.RunsOut.Expected.IsZero() && b.RunsOut.Expected.Before(b.At.AddDate(0, 0, lowDays))
	return g
}

// lowDays is how many days of salt left are few.
const lowDays = 10

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
	switch {
	case !f.OK:
		return r.Say("salt.lasts.unknown")
	case f.Expected.IsZero():
		return r.Say("salt.lasts.long")
	case f.Late.IsZero():
		return r.Say("salt.lasts.from", "day", r.dayAhead(f.Expected, now), "early", r.dayAhead(f.Early, now))
	}
	return r.Say("salt.lasts.band", "day", r.dayAhead(f.Expected, now), "early", r.dayAhead(f.Early, now), "late", r.dayAhead(f.Late, now))
}

// account is the rest of the books that a household can use.
func (r reader) account(b books.Books) []fact {
	out := []fact{{Name: r.Say("account.explains"), Value: r.explained(b.Explains)}}
	if b.Salt.Week.Known() {
		value := r.amount(float64(b.Salt.Week), detect.Mass)
		if b.Salt.Normal.Known() {
			value = r.Say("account.beside", "value", value, "usual", r.amount(float64(b.Salt.Normal), detect.Mass))
		}
		out = append(out, fact{Name: r.Say("account.salt_week"), Value: value})
	}
	return out
}

func (r reader) explained(e books.Explains) string {
	if !e.OK {
		return r.Say("account.unknown")
	}
	return r.Say("account.share", "percent", percent(float64(e.Share)), "used", r.amount(float64(e.Used), detect.Mass))
}

// Reasons says in a few words each, in English, what was missing or out of
// proportion in a regeneration, but for what its ending says already.
func Reasons(e books.Entry) []string { return readerOf(detect.Home{}).reasons(e) }

func (r reader) reasons(e books.Entry) []string {
	var out []string
	for _, why := range e.Reasons {
		switch why {
		case books.CutShort, books.NeverEnded:
		case books.PhaseMissing:
			out = append(out, r.missing(e)...)
		default:
			out = append(out, r.Or("reason."+string(why), strings.ReplaceAll(string(why), "_", " ")))
		}
	}
	return out
}

// missing names the missing phases, but for those whose litres say it.
func (r reader) missing(e books.Entry) (out []string) {
	for _, p := range e.Missing {
		said := p == detect.Refill && slices.Contains(e.Reasons, books.RefillNone) || p == detect.BrineDraw && slices.Contains(e.Reasons, books.BrineNone)
		if !said {
			out = append(out, r.Say("reason.no_phase", "phase", r.inSentence(r.phaseName(p))))
		}
	}
	return out
}

// inSentence is a name within a sentence: German keeps its capitals.
func (r reader) inSentence(name string) string {
	if r.Lang() == "de" {
		return name
	}
	return strings.ToLower(name)
}
