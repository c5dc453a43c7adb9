package web

import (
	"encoding/csv"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"time"

	"brinebell/detect"
)

// roundView is who needs salt in the coming weeks, and how much, by area.
type roundView struct {
	Title, Sentence, Unit string
	Weeks                 []option
	Areas                 []areaRound
	Unknown               string // homes whose salt nobody knows
	Area                  string
	AllAreas              []string
	CSV                   string
	None                  bool
	Unseen                bool   // no home's salt is known at all
	Further               string // rows that only the file has
	rows                  int
}

func (roundView) template() string  { return "salt" }
func (v roundView) heading() string { return v.Title }

// areaRound is the round of one area.
type areaRound struct {
	Name, Sum string
	Rows      []roundRow
	kg        float64
}

// roundRow is one home of the round.
type roundRow struct {
	ID, Name, Week, Early, Expected, Left, Bring, Bags string
	Late                                               bool // it may have run out already
}

// delivery is what a home of the round needs.
type delivery struct {
	*standing
	early, expected time.Time
	kg              float64 // that have room in the tank
	week            int     // from now, 0 the first
}

// The weeks that a round looks ahead.
const (
	defaultWeeks = 4
	mostWeeks    = 26
)

func weeksOf(q url.Values) int {
	n, err := strconv.Atoi(q.Get("weeks"))
	if err != nil || n < 1 {
		return defaultWeeks
	}
	return min(n, mostWeeks)
}

// round lists the homes whose salt may run out within the weeks, by area and
// day, and counts those of which it is not known.
func (s *Server) round(r *http.Request) (due []delivery, unknown int, homes []*standing, err error) {
	b, err := s.board(r.Context())
	if err != nil {
		return nil, 0, nil, err
	}
	weeks, area := weeksOf(r.URL.Query()), r.URL.Query().Get("area")
	a := askerOf(r.Context())
	for _, h := range b.salt {
		if !s.shows(a, h) {
			continue
		}
		homes = append(homes, h)
		f, t := h.books.RunsOut, h.books.Tank
		switch now := h.books.At; {
		case area != "" && h.area != area:
		case !h.booked || !f.OK || !t.Room.Known():
			unknown++
		case f.Early.IsZero() || f.Early.After(now.AddDate(0, 0, 7*weeks)):
		default:
			due = append(due, delivery{h, f.Early, f.Expected, float64(t.Room), max(0, int(f.Early.Sub(now)/(7*24*time.Hour)))})
		}
	}
	return due, unknown, homes, nil
}

func (s *Server) saltRound(r *http.Request) (view, error) {
	a := askerOf(r.Context())
	if a.household() {
		return nil, errNoPage
	}
	due, unknown, homes, err := s.round(r)
	if err != nil {
		return nil, err
	}
	t, weeks := a.speech(), weeksOf(r.URL.Query())
	v := roundView{Title: t.Say("round.title"), Area: r.URL.Query().Get("area"), AllAreas: areasOf(homes), CSV: "/salt.csv?" + r.URL.Query().Encode(), None: len(due) == 0,
		Unseen: unknown == len(homes) && unknown > 0}
	for _, n := range []int{1, 2, 4, 8, 13} {
		v.Weeks = append(v.Weeks, option{strconv.Itoa(n), t.Say("round.weeks", "n", n), n == weeks})
	}
	if unknown > 0 {
		v.Unknown = t.Say("round.unknown", "n", unknown)
	}
	read, sum := a.plainly(homes), 0.0
	for _, d := range due {
		sum += d.kg
		v.add(a, d)
	}
	for i := range v.Areas {
		v.Areas[i].Sum = read.about(v.Areas[i].kg, detect.Mass)
	}
	if v.rows > roundRows {
		v.Further = t.Say("round.further", "n", v.rows-roundRows)
	}
	v.Unit = read.unit(detect.Mass)
	v.Sentence = t.Say("round.sentence", "n", len(due), "weeks", weeks, "salt", read.about(sum, detect.Mass))
	if len(due) == 0 {
		v.Sentence = t.Say("round.nobody", "weeks", weeks)
	}
	return v, nil
}

// roundRows bounds the rows of the page; the file has them all.
const roundRows = 150

func (v *roundView) add(a asker, d delivery) {
	if len(v.Areas) == 0 || v.Areas[len(v.Areas)-1].Name != d.area {
		v.Areas = append(v.Areas, areaRound{Name: d.area})
	}
	area := &v.Areas[len(v.Areas)-1]
	area.kg += d.kg
	if v.rows++; v.rows > roundRows {
		return
	}
	read := a.reads(d.home)
	area.Rows = append(area.Rows, roundRow{ID: d.home.ID, Name: nameOf(d.home), Week: read.nbsp("round.week", "n", d.week+1), Early: read.day(d.early),
		Expected: read.dayAhead(d.expected, d.books.At), Left: read.about(float64(d.books.Tank.Salt), detect.Mass), Bring: read.about(d.kg, detect.Mass),
		Bags: read.Say("round.bags", "n", read.bags(d.kg), "bag", read.about(read.bagKg(), detect.Mass)), Late: d.early.Before(d.books.At)})
}

// saltCSV is the round as a file, for whoever plans or loads a van. Masses are
// kilograms, days are local.
func (s *Server) saltCSV(w http.ResponseWriter, r *http.Request) {
	if askerOf(r.Context()).household() {
		http.NotFound(w, r)
		return
	}
	due, _, _, err := s.round(r)
	if err != nil {
		s.Logger.Error("salt round not listed", "error", err)
		http.Error(w, askerOf(r.Context()).speech().Say("trouble.unshown"), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/csv; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="salt-round.csv"`)
	out := csv.NewWriter(w)
	_ = out.Write([]string{"area", "home", "name", "runs_out_early", "runs_out_expected", "left_kg", "bring_kg", "bags_25_kg"})
	for _, d := range due {
		loc := d.home.Location
		expected := ""
		if !d.expected.IsZero() {
			expected = d.expected.In(loc).Format(time.DateOnly)
		}
		_ = out.Write([]string{spreadsheetSafe(d.area), d.home.ID, spreadsheetSafe(nameOf(d.home)), d.early.In(loc).Format(time.DateOnly), expected,
			strconv.FormatFloat(float64(d.books.Tank.Salt), 'f', 1, 64), strconv.FormatFloat(d.kg, 'f', 1, 64), strconv.Itoa(max(1, int(d.kg/25+0.05)))})
	}
	out.Flush() // the reader may be gone: nothing left to do
}

// spreadsheetSafe keeps a name from being taken for a formula (OWASP, CSV
// injection).
func spreadsheetSafe(text string) string {
	if text != "" && slices.Contains([]byte("=+-@\t\r"), text[0]) {
		return "'" + text
	}
	return text
}
