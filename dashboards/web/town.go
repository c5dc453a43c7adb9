package web

import (
	"cmp"
	"html/template"
	"math"
	"net/http"
	"slices"
	"time"

	"brinebell/dashboards/web/chart"
	"brinebell/detect"
	"brinebell/detect/care"
)

// homesOnPage is how many homes one page lists; it keeps a page of a large firm
// under 100 KB.
const homesOnPage = 30

// townView is many homes, the most pressing first.
type townView struct {
	Title, Sentence string
	Counts          []count
	Needing, Calm   []homeLine
	None            bool // no homes at all
	First           emptyView
	Choice          choice
	Query           string // of the choice
	Found           string // what the choice found, when it leaves anything out
	Areas           []string
	Causes          []option
	Kept            []keptSearch
	CanKeep         bool
	Firm            bool // with what only who looks after many homes needs
	Before, After   string
}

func (townView) template() string  { return "town" }
func (v townView) heading() string { return v.Title }

// emptyView says what to do where there are no homes.
type emptyView struct {
	Say   string
	SetUp string // the address at which the asker can add one, or empty
	Owner bool   // to whom it helps to know what sensors are to do
}

func (s *Server) empty(a asker) emptyView {
	switch {
	case a.household():
		return emptyView{Say: a.speech().Say("town.given")}
	case s.setsUp(a, care.SetUpHome):
		return emptyView{a.speech().Say("town.first"), setUpPath, true}
	}
	return emptyView{Say: a.speech().Say("town.first"), Owner: true}
}

// count is how many homes are at one level, with the address that shows them.
type count struct {
	Level level
	Homes int
	Link  string
	On    bool
}

// option is one entry to choose from.
type option struct {
	Value, Name string
	On          bool
}

// keptSearch is a search that somebody keeps, as a link.
type keptSearch struct{ Name, Link string }

// homeLine is one home among all.
type homeLine struct {
	ID, Name, Area string
	Level          level
	Sentence, More string
	Since, Newest  string
	Age            string // how long it has waited
	Cause          string // the likeliest, with how likely
	Cost           string // of a day of waiting
	Spark          template.HTML
}

func (s *Server) town(r *http.Request) (view, error) {
	a := askerOf(r.Context())
	b, err := s.board(r.Context())
	if err != nil {
		return nil, err
	}
	homes := s.seen(r.Context(), b)
	if a.household() && len(homes) == 1 {
		return redirect("/homes/" + homes[0].home.ID), nil
	}
	c := choiceOf(r.URL.Query())
	v := townView{Title: s.Title, Sentence: a.townSentence(homes), None: len(homes) == 0, First: s.empty(a), Choice: c, Query: c.query(), Firm: !a.household()}
	v.Counts, v.Areas, v.Causes = c.counts(homes), areasOf(homes), s.causesOf(a, homes, c)
	if err := s.addKept(r, &v); err != nil {
		return nil, err
	}
	found := c.take(homes)
	if c.Any() {
		v.Found = a.speech().Say("town.found", "n", len(found))
	}
	wall := s.present()
	for _, h := range v.turnTo(c, found) {
		line := s.line(a, h, wall)
		if h.cond.Level == quiet {
			v.Calm = append(v.Calm, line)
		} else {
			v.Needing = append(v.Needing, line)
		}
	}
	return v, nil
}

// turnTo keeps one page of the homes and says where the others are.
func (v *townView) turnTo(c choice, homes []*standing) []*standing {
	last := max(1, (len(homes)+homesOnPage-1)/homesOnPage)
	page := min(last, max(1, c.Page))
	if page > 1 {
		v.Before = c.on(page - 1)
	}
	if page < last {
		v.After = c.on(page + 1)
	}
	return homes[(page-1)*homesOnPage : min(len(homes), page*homesOnPage)]
}

func (s *Server) line(a asker, h *standing, wall time.Time) homeLine {
	read := a.reads(h.home)
	l := homeLine{ID: h.home.ID, Name: nameOf(h.home), Area: h.area, Level: h.cond.Level,
		Sentence: read.sentence(h.cond), More: read.more(h.cond), Spark: read.spark(h)}
	if open := h.cond.open; len(open) > 0 {
		l.Since = read.moment(open[0].Onset)
		now := h.cond.now
		if wall.After(now) {
			now = wall
		}
		if now.After(open[0].Onset) {
			l.Age = read.roughly(now.Sub(open[0].Onset))
		}
	}
	if !h.cond.now.IsZero() {
		l.Newest = read.moment(h.cond.now)
	}
	if first := h.likeliest; first.Cause != "" {
		title := read.causeText(s.CauseText(first.Cause), first.Cause).Title
		l.Cause = read.Say("town.cause", "cause", title, "percent", percent(first.Probability))
	}
	if h.cost > 0 {
		l.Cost = read.Say("town.cost", "money", read.money(h.cost, cmp.Or(h.cases[0].Loss.Currency, h.home.Costs.Currency)))
	}
	return l
}

// sparkDays is how many days a home's small picture shows.
const sparkDays = 21

// spark is the water of the last days, a bar each, from the books.
func (r reader) spark(h *standing) template.HTML {
	days := h.books.Days
	if len(days) > sparkDays {
		days = days[len(days)-sparkDays:]
	}
	values := make([]float64, sparkDays) // the newest last, whatever is missing
	for i := range values {
		values[i] = math.NaN()
	}
	var sum float64
	for i, d := range days {
		values[sparkDays-len(days)+i] = float64(d.Through)
		if d.Through.Known() {
			sum += float64(d.Through)
		}
	}
	if sum == 0 {
		return ""
	}
	return template.HTML(chart.Spark(values, r.Say("town.spark", "n", len(days), "water", r.about(sum, detect.Volume)))) // #nosec G203 -- chart escapes every text
}

// townSentence says in one sentence how all homes are.
func (a asker) townSentence(homes []*standing) string {
	var at [quiet + 1]int
	for _, h := range homes {
		at[h.cond.Level]++
	}
	t := a.speech()
	switch {
	case len(homes) == 0:
		return t.Say("town.none")
	case at[actNow] > 0:
		return t.Say("town.now", "n", at[actNow])
	case at[thisWeek] > 0:
		return t.Say("town.week", "n", at[thisWeek])
	case at[silent] > 0:
		return t.Say("town.silent", "n", at[silent])
	case at[plan] > 0:
		return t.Say("town.plan", "n", at[plan])
	case at[unheard] == len(homes):
		return t.Say("town.waiting")
	}
	return t.Say("town.quiet")
}

// counts says how many homes are at each level; choosing one again shows all.
func (c choice) counts(homes []*standing) []count {
	out := make([]count, len(levels()))
	for i, l := range levels() {
		out[i] = count{Level: l, Link: c.at(l.Class()), On: c.Level == l.Class()}
		if out[i].On {
			out[i].Link = c.at("")
		}
	}
	for _, h := range homes {
		out[h.cond.Level].Homes++
	}
	return slices.DeleteFunc(out, func(n count) bool { return n.Homes == 0 && !n.On })
}

func areasOf(homes []*standing) []string {
	var out []string
	for _, h := range homes {
		if h.area != "" {
			out = append(out, h.area)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// causesOf are the likeliest causes at these homes, the most frequent first.
func (s *Server) causesOf(a asker, homes []*standing, c choice) []option {
	n := map[detect.Cause]int{}
	for _, h := range homes {
		if first := h.likeliest.Cause; first != "" {
			n[first]++
		}
	}
	read := a.reads(detect.Home{})
	var out []option
	for _, id := range detect.Causes() {
		if n[id] > 0 {
			out = append(out, option{string(id), read.causeText(s.CauseText(id), id).Title, id == c.Cause})
		}
	}
	slices.SortStableFunc(out, func(x, y option) int {
		return cmp.Compare(n[detect.Cause(y.Value)], n[detect.Cause(x.Value)])
	})
	return out
}

func (s *Server) addKept(r *http.Request, v *townView) error {
	if s.Searches == nil || !v.Firm {
		return nil
	}
	kept, err := s.Searches.Searches(r.Context(), askerOf(r.Context()).by())
	if err != nil {
		return err
	}
	for _, k := range kept {
		v.Kept = append(v.Kept, keptSearch{k.Name, "/?" + k.Query})
	}
	v.CanKeep = v.Choice.Any()
	return nil
}
