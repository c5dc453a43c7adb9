package web

import (
	"html/template"
	"math"
	"time"

	"brinebell/dashboards/web/chart"
	"brinebell/detect"
	"brinebell/detect/books"
)

// barsView is a picture of bars with the numbers behind it.
type barsView struct {
	ID, Title, Unit, Sentence, Note string
	SVG                             template.HTML
	Usual                           bool // notches are drawn, so that the legend explains them
	Table                           table
}

// today is the water used so far today beside what the weekday usually takes,
// as the third gauge.
func (r reader) today(b books.Books) gauge {
	g := gauge{Name: r.Say("today.name"), Value: r.Say("number.unknown"), Note: r.Say("today.unknown")}
	if !b.Today.Through.Known() {
		return g
	}
	used := float64(b.Today.Through)
	g.Value, g.Note = r.about(used, detect.Volume), r.Say("today.so_far", "when", r.clock(b.At))
	usual := usualOn(b, b.At.Weekday())
	if !math.IsNaN(usual) && usual > 0 {
		g.Known, g.Share = true, percent(min(1, used/usual))
		g.Low = used > usual*muchMore
		g.More = r.Say("today.usual", "day", r.WholeWeekday(b.At.Weekday()), "usual", r.about(usual, detect.Volume))
	}
	if b.PastWeek.Known() && b.PastWeek > 0 {
		g.More += " " + r.Say("today.past", "past", r.about(float64(b.PastWeek), detect.Volume))
	}
	return g
}

// muchMore is from how many times the usual a day counts as much water.
const muchMore = 1.5

// The days that the picture of days shows, and each so-manieth is labelled.
const (
	daysShown    = 28
	daysLabelled = 7
)

// days are the home's days of water with what is usual on each.
func (r reader) days(b books.Books) barsView {
	v := barsView{ID: "days", Title: r.Say("days.title"), Unit: r.unit(detect.Volume), Note: r.Say("days.note"), Usual: true,
		Table: table{Head: r.List("days.table")}}
	days := b.Days[max(0, len(b.Days)-daysShown):]
	p := chart.BarPicture{ID: "picture-days", Title: v.Title, Every: daysLabelled, Least: r.in(50, detect.Volume), Number: r.Tick}
	for i, d := range days {
		at, err := time.ParseInLocation(time.DateOnly, d.Date, r.loc)
		if err != nil {
			continue
		}
		usual := usualOn(b, at.Weekday())
		bar := chart.Bar{Label: r.barDay(at), Value: r.in(float64(d.Through), detect.Volume), Usual: r.in(usual, detect.Volume)}
		if i == len(days)-1 && d.Date == b.Today.Date {
			bar.Class = "now"
		}
		p.Bars = append(p.Bars, bar)
		v.Table.Rows = append([][]string{{r.day(at), r.amount(float64(d.Through), detect.Volume), r.amount(usual, detect.Volume),
			r.amount(float64(d.Rinse), detect.Volume), r.amount(float64(d.Salt), detect.Mass)}}, v.Table.Rows...)
	}
	v.Sentence = r.weekSentence(b.Water)
	p.Desc = v.Sentence + " " + r.Say("picture.desc.table")
	if len(p.Bars) > 0 {
		v.SVG = template.HTML(p.SVG()) // #nosec G203 -- chart escapes every text
	}
	return v
}

// barDay names a day under its bar.
func (r reader) barDay(at time.Time) string {
	return r.Weekday(at.Weekday()) + " " + r.Grouped(float64(at.Day()))
}

// weekSentence sets the last week beside the weeks before.
func (r reader) weekSentence(u books.Usual) string {
	if !u.Week.Known() {
		return r.Say("days.young")
	}
	week := r.about(float64(u.Week), detect.Volume)
	if !u.Ratio.Known() {
		return r.Say("days.week", "week", week)
	}
	return r.Say("days.beside", "week", week, "usual", r.about(float64(u.Normal), detect.Volume), "percent", int(math.Round(float64(u.Ratio)*100)))
}

// bagKg is a bag of softener salt as shops sell it: 25 kg, or 40 lb where
// pounds are read. Common practice, no source.
func (r reader) bagKg() float64 {
	if r.units == detect.US {
		return 40 * 0.45359237
	}
	return 25
}

// buyAhead is how many days before the salt runs out it is time to buy.
const buyAhead = 30

// buy says what salt to buy, and when.
func (r reader) buy(b books.Books) string {
	t, f := b.Tank, b.RunsOut
	if !f.OK || !t.Room.Known() || f.Early.IsZero() {
		return ""
	}
	if f.Early.After(b.At.AddDate(0, 0, buyAhead)) {
		return r.Say("buy.later", "day", r.dayAhead(f.Early.AddDate(0, 0, -buyAhead/2), b.At))
	}
	bags := r.bags(float64(t.Room))
	return r.Say("buy.now", "n", bags, "bag", r.about(r.bagKg(), detect.Mass), "room", r.about(float64(t.Room), detect.Mass))
}

// bags is how many whole bags go into the room of a tank, at least one.
func (r reader) bags(room float64) int { return max(1, int(room/r.bagKg()+0.05)) }

// usualOn is what the home usually uses on a day of the week, L; NaN when not
// known.
func usualOn(b books.Books, day time.Weekday) float64 {
	if int(day) >= len(b.Weekday) {
		return math.NaN()
	}
	return float64(b.Weekday[day])
}
