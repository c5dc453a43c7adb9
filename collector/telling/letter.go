package telling

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"brinebell/collector/casebook"
	"brinebell/collector/state"
	"brinebell/detect"
	"brinebell/detect/care"
)

// letter is a delivery as it is to be read.
type letter struct {
	id      string
	at      time.Time // of its making: the same in each attempt
	subject string    // one line
	items   []item
	picture []byte // PNG of the first item's evidence; may be nil
	says    string // the picture in words
	link    string // to the pages
	person  care.Person
}

// item is one step as it is to be read.
type item struct {
	Heading string // one line: what, and at which home
	What    string // what is wrong, or was said
	Do      string // what to do now
	Careful string
	Sure    string // how sure the cause is
	Cost    string // of waiting
	Since   string
	State   string // how the case is by now, where it has moved on
	Link    string
	event   event // the same for programs
}

// told is what an item is made of.
type told struct {
	step  care.Step
	again int
	c     casebook.Case
	home  detect.Home
	alert detect.Alert // the lead, or that of the step; zero when it was erased
}

// letter makes the letter of a delivery, of how things are by now.
func (t *Teller) letter(ctx context.Context, d delivery, p care.Person, c care.Channel) (l letter, err error) {
	all, err := t.contents(ctx, d.id)
	if err != nil {
		return l, err
	}
	l = letter{id: d.id, at: d.created, link: t.opts.BaseURL, person: p}
	for _, x := range all {
		l.items = append(l.items, t.item(x, p))
	}
	if len(l.items) == 0 {
		return l, fmt.Errorf("%w: what was to be told has been erased", care.ErrNone)
	}
	l.subject = l.items[0].Heading
	if n := len(l.items); n > 1 {
		l.subject = fmt.Sprintf("%s, and %d more", l.subject, n-1)
	}
	if c.Kind == care.Mail && t.opts.Painter != nil && all[0].alert.ID != "" {
		if l.picture, l.says, err = t.opts.Painter.Evidence(ctx, all[0].alert); err != nil {
			t.opts.Logger.Warn("a mail goes out without its picture", "delivery", d.id, "error", err)
		}
	}
	return l, nil
}

// contents are the steps of a delivery, the most pressing first.
func (t *Teller) contents(ctx context.Context, id string) (out []told, err error) {
	steps := map[int64]string{}
	again := map[int64]int{}
	var order []int64
	err = t.opts.State.Each(ctx, func(r *sql.Rows) error {
		var step int64
		var n int
		var caseID string
		err := r.Scan(&step, &n, &caseID)
		if _, twice := steps[step]; !twice {
			order = append(order, step)
		}
		steps[step], again[step] = caseID, max(n, again[step])
		return err
	}, `SELECT step, again, case_id FROM messages WHERE delivery = ? ORDER BY step, again`, id)
	if err != nil {
		return nil, err
	}
	for _, seq := range order {
		x, err := t.told(ctx, steps[seq], seq)
		if errors.Is(err, casebook.ErrNoCase) {
			continue // erased
		}
		if err != nil {
			return nil, err
		}
		x.again = again[seq]
		out = append(out, x)
	}
	slices.SortStableFunc(out, func(a, b told) int { return a.alert.Severity.Rank() - b.alert.Severity.Rank() })
	return out, nil
}

func (t *Teller) told(ctx context.Context, caseID string, seq int64) (x told, err error) {
	if x.c, err = t.opts.Cases.Case(ctx, caseID); err != nil {
		return x, err
	}
	i := slices.IndexFunc(x.c.Steps, func(s care.Step) bool { return s.Seq == seq })
	if i < 0 {
		return x, casebook.ErrNoCase
	}
	x.step = x.c.Steps[i]
	x.home, _ = t.opts.Home(x.c.Home)
	if x.home.Location == nil {
		x.home.Location, x.home.Name = time.UTC, x.c.Home
	}
	alerts, err := t.opts.State.Alerts(ctx, x.c.Home)
	if err != nil {
		return x, err
	}
	for _, id := range []string{x.c.Lead, x.step.Alert} { // the step's own counts, if it is more pressing
		j := slices.IndexFunc(alerts, func(a state.Alert) bool { return a.ID == id })
		if j >= 0 && (x.alert.ID == "" || alerts[j].Severity.Rank() < x.alert.Severity.Rank()) {
			x.alert = alerts[j].Alert
		}
	}
	return x, nil
}

// oneLine is text without anything that could end a line of a header, and no
// longer than a subject should be.
func oneLine(text string) string {
	text = strings.Join(strings.FieldsFunc(text, func(r rune) bool { return r < ' ' || r == 0x7f || r == 0x85 || r == 0x2028 || r == 0x2029 }), " ")
	text = strings.Join(strings.Fields(strings.ToValidUTF8(text, "?")), " ")
	if runes := []rune(text); len(runes) > maxLine {
		return string(runes[:maxLine-1]) + "…"
	}
	return text
}

// maxLine is the most characters of a heading.
const maxLine = 150
