package telling

import (
	"fmt"
	"net/url"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"brinebell/detect"
	"brinebell/detect/care"
	"brinebell/detect/cause"
)

// item writes one step for a person.
func (t *Teller) item(x told, p care.Person) item {
	i := item{Heading: heading(x), What: what(x), Link: t.linkTo(x), event: t.event(x)}
	if raises(x.step.Act) {
		i.trouble(x, p)
	}
	i.State = since(x)
	return i
}

// linkTo is where the pages show the case.
func (t *Teller) linkTo(x told) string {
	if t.opts.BaseURL == "" {
		return ""
	}
	return t.opts.BaseURL + "/homes/" + url.PathEscape(x.c.Home) + "/cases/" + url.PathEscape(x.c.ID)
}

func heading(x told) string {
	title := care.Title(x.alert.Kind)
	if x.alert.ID == "" {
		title = "What was noticed"
	}
	switch x.step.Act {
	case care.AskHouse:
		title = "A question: " + lower(title)
	case care.AskFirm:
		title = "The household asks: " + lower(title)
	case care.Answer:
		title = "An answer: " + lower(title)
	case care.Cleared:
		title = "Over: " + lower(title)
	case care.Held:
		title = "The repair has held: " + lower(title)
	case care.Reopened:
		title = "Again: " + lower(title)
	}
	if raises(x.step.Act) && x.alert.Severity == detect.ActNow {
		title = "Act now: " + lower(title)
	}
	if x.again > 0 {
		title = "Nobody has taken this yet. " + title
	}
	return oneLine(title + " – " + nameOf(x.home))
}

func nameOf(h detect.Home) string {
	if h.Name != "" {
		return h.Name
	}
	return h.ID
}

func lower(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

// what is the first line.
func what(x told) string {
	switch x.step.Act {
	case care.Cleared:
		return "It has stopped by itself, without a repair that anybody told of. It is watched for some days whether it stays so."
	case care.Held, care.AskHouse, care.AskFirm, care.Answer:
		return x.step.Text
	case care.Reopened:
		if x.step.Text != "" {
			return sentence(x.step.Text) + " " + x.alert.Summary
		}
	}
	return x.alert.Summary
}

// causesNamed is how many causes a message names.
const causesNamed = 3

// trouble says what to do about it, how sure it is and what waiting costs.
func (i *item) trouble(x told, p care.Person) {
	first := care.FirstCause(x.alert)
	text := cause.Lookup(first.Cause)
	i.Do = text.Household
	if p.Role == care.Technician || p.Role == care.Manager {
		i.Do = sentences(text.Technician, "What settles it: "+text.Check, with("To bring: ", text.Parts))
	}
	if first.Cause == "" {
		i.Do = "Look at the page for what speaks for what, and tell there what you notice."
	}
	i.Careful = sentences(care.Caution(x.alert.Kind), text.Caution)
	i.Sure = "That it happens is measured. " + sure(x.alert)
	if x.c.Loss.PerDay >= 0.01 {
		i.Cost = fmt.Sprintf("Waiting costs about %.2f %s a day, damage that threatens included.", x.c.Loss.PerDay, x.c.Loss.Currency)
	}
	i.Since = "Since " + moment(x.alert.Onset, x, p) + ", certain at " + moment(x.alert.Raised, x, p) + "."
}

// sure says how far the causes are known.
func sure(a detect.Alert) string {
	if len(a.Causes) == 0 {
		return "Why is not known yet."
	}
	var named []string
	for n, c := range a.Causes {
		if n == causesNamed || n > 0 && c.Probability < 0.1 {
			break
		}
		named = append(named, fmt.Sprintf("%s (%.0f in 100)", lower(cause.Lookup(c.Cause).Title), 100*c.Probability))
	}
	standing := cause.Standing(a.Causes)
	if standing == "" {
		standing = "Why is less sure:"
	}
	return standing + " " + strings.Join(named, ", ") + "."
}

// since says how the case is by now, if it has moved on.
func since(x told) string {
	switch {
	case x.c.Version == x.step.Seq:
		return ""
	case raises(x.step.Act) && x.alert.ID != "" && !x.alert.Open():
		return "It is over since " + moment(x.alert.Cleared, x, care.Person{}) + "."
	case raises(x.step.Act) && x.c.Stage != care.Open:
		return "By now the case " + x.c.Stage.Words() + "."
	}
	return ""
}

// moment is a time by the clock of the person, or of the home.
func moment(at time.Time, x told, p care.Person) string {
	loc := x.home.Location
	if p.Timezone != "" {
		if own, err := time.LoadLocation(p.Timezone); err == nil {
			loc = own
		}
	}
	return at.In(loc).Format("2 January 15:04")
}

func with(before, text string) string {
	if text == "" {
		return ""
	}
	return before + text + "."
}

// sentences joins what is not empty.
func sentences(parts ...string) string {
	var out []string
	for _, p := range parts {
		if p != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, " ")
}

// sentence is text with the look of one.
func sentence(text string) string {
	first, size := utf8.DecodeRuneInString(text)
	if size == 0 {
		return ""
	}
	text = string(unicode.ToUpper(first)) + text[size:]
	if strings.ContainsRune(".!?", rune(text[len(text)-1])) {
		return text
	}
	return text + "."
}

// trial is a letter that says nothing but that the channel works.
func (t *Teller) trial(p care.Person) letter {
	now := t.opts.Clock().UTC()
	return letter{id: fmt.Sprintf("trial-%x", now.UnixNano()), at: now, subject: "This channel works", link: t.opts.BaseURL, person: p,
		items: []item{{Heading: "This channel works", What: "Messages about your homes will come here.", Link: t.opts.BaseURL, event: event{Type: "brinebell.trial"}}}}
}
