package texts

import (
	"slices"
	"strings"

	"golang.org/x/text/feature/plural"
)

// sentence is a text cut at its holes.
type sentence []piece

// piece is plain text, or a hole to be filled; with forms, the hole takes the
// form that the number named asks for.
type piece struct {
	text, hole string
	forms      []string
}

func (s sentence) plain() bool { return len(s) == 1 && s[0].hole == "" }

// parse cuts a text at "{name}" and "{name:one|other}".
func parse(text string) sentence {
	var out sentence
	for text != "" {
		before, rest, found := strings.Cut(text, "{")
		hole, after, closed := strings.Cut(rest, "}")
		if !found || !closed {
			return append(out, piece{text: text})
		}
		if before != "" {
			out = append(out, piece{text: before})
		}
		name, forms, bends := strings.Cut(hole, ":")
		p := piece{hole: name}
		if bends {
			p.forms = strings.Split(forms, "|")
		}
		out, text = append(out, p), after
	}
	if out == nil {
		return sentence{{}}
	}
	return out
}

// holes lists the names it takes, each once, sorted.
func (s sentence) holes() []string {
	var names []string
	for _, p := range s {
		if p.hole != "" && !slices.Contains(names, p.hole) {
			names = append(names, p.hole)
		}
	}
	slices.Sort(names)
	return names
}

// flat is all of its words, without what fills it.
func (s sentence) flat() string {
	var b strings.Builder
	for _, p := range s {
		b.WriteString(p.text + strings.Join(p.forms, " "))
	}
	return b.String()
}

func (s sentence) fill(t *Tongue, pairs []any) string {
	var b strings.Builder
	for _, p := range s {
		if p.hole == "" {
			b.WriteString(p.text)
			continue
		}
		v, _ := lookUp(pairs, p.hole)
		if p.forms == nil {
			t.write(&b, v)
			continue
		}
		b.WriteString(p.forms[t.form(v, len(p.forms))])
	}
	return b.String()
}

// form is which of the forms a number takes: the first for one, the last for
// all others. Languages with more than two forms would name them here.
func (t *Tongue) form(v any, forms int) int {
	n, ok := v.(int)
	if ok && plural.Cardinal.MatchPlural(t.tag, n, 0, 0, 0, 0) == plural.One {
		return 0
	}
	return forms - 1
}
