package texts

import (
	"fmt"
	"strings"

	"golang.org/x/text/language"
)

// Tongue is the catalogue in one language.
type Tongue struct {
	lang    string
	tag     language.Tag
	said    map[string]sentence
	english *Tongue

	point, group string
	months, days []string
}

// Lang is the language, for an element's lang.
func (t *Tongue) Lang() string { return t.lang }

// Has says whether this language itself says the key.
func (t *Tongue) Has(key string) bool { _, ok := t.said[key]; return ok }

// Say is the text of a key. What it names is given as pairs of name and value;
// an int that a form depends on is given as an int.
func (t *Tongue) Say(key string, pairs ...any) string {
	s, ok := t.said[key]
	if !ok {
		if s, ok = t.english.said[key]; !ok {
			return key
		}
	}
	if s.plain() {
		return s[0].text
	}
	return s.fill(t, pairs)
}

// Or is the text of a key, or what is given where no language says it.
func (t *Tongue) Or(key, otherwise string, pairs ...any) string {
	if t.Has(key) || t.english.Has(key) {
		return t.Say(key, pairs...)
	}
	return otherwise
}

// List is the text of a key cut at its bars.
func (t *Tongue) List(key string) []string { return strings.Split(t.Say(key), "|") }

// settle keeps what every number and date needs at hand.
func (t *Tongue) settle() {
	t.point, t.group = t.Say("number.point"), t.Say("number.group")
	t.months, t.days = t.List("date.months"), t.List("date.days")
}

func lookUp(pairs []any, name string) (any, bool) {
	for i := 0; i+1 < len(pairs); i += 2 {
		if pairs[i] == name {
			return pairs[i+1], true
		}
	}
	return nil, false
}

// write says a value: whole numbers grouped as the language does.
func (t *Tongue) write(b *strings.Builder, v any) {
	switch v := v.(type) {
	case string:
		b.WriteString(v)
	case int:
		b.WriteString(t.Grouped(float64(v)))
	default:
		fmt.Fprint(b, v)
	}
}
