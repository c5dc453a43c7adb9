package texts

import (
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"
)

func standard(t *testing.T) *Catalogue {
	t.Helper()
	c, err := Standard()
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// TestEveryKeyIsSaidInEveryLanguage: Load names what is missing, and there is
// nothing.
func TestEveryKeyIsSaidInEveryLanguage(t *testing.T) {
	c := standard(t)
	if len(c.Keys()) < 500 {
		t.Errorf("only %d keys", len(c.Keys()))
	}
	for _, key := range c.Keys() {
		for _, lang := range Languages() {
			if said := c.Tongue(lang).Say(key); strings.TrimSpace(said) == "" || strings.Contains(said, "  ") {
				t.Errorf("%s in %q is %q", key, lang, said)
			}
		}
	}
}

// TestWhatIsWrongIsNamed: a key that a language lacks, holes that differ, a hole
// within a form, a key that stands twice.
func TestWhatIsWrongIsNamed(t *testing.T) {
	_, err := Load(fstest.MapFS{
		"a.yaml": {Data: []byte("one: {en: One}\ntwo: {en: \"{n} two\", de: zwei}\nthree: {en: \"{n:a {b}|c}\", de: \"{n:a|c}\"}\ncause.x: {de: nur deutsch}\n")},
		"b.yaml": {Data: []byte("one: {en: Again, de: Noch einmal}\n")},
		"c.yaml": {Data: []byte("- no map\n")},
	})
	for _, want := range []string{`one: not said in "de"`, `two: "de" names []`, "three", "one stands in another file too", "c.yaml"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q is not named in %v", want, err)
		}
	}
	if err != nil && strings.Contains(err.Error(), "cause.x") {
		t.Error("a borrowed key is asked for its English")
	}
}

// The forms are those of the CLDR plural rules: in English and German one is
// "one" and all else, nought too, is "other".
func TestSentencesBendAndFill(t *testing.T) {
	c := standard(t)
	for _, want := range []struct {
		lang, said string
		n          int
	}{{"en", "1 home needs someone now.", 1}, {"en", "0 homes need someone now.", 0}, {"en", "12,345 homes need someone now.", 12345},
		{"de", "1 Haus braucht jetzt jemanden.", 1}, {"de", "12.345 Häuser brauchen jetzt jemanden.", 12345}} {
		if got := c.Tongue(want.lang).Say("town.now", "n", want.n); got != want.said {
			t.Errorf("%d in %q: %q, want %q", want.n, want.lang, got, want.said)
		}
	}
	if got := c.Tongue("en").Say("no.such.key"); got != "no.such.key" {
		t.Error(got)
	}
	if got := c.Tongue("xx").Lang(); got != English {
		t.Errorf("a language that is not spoken is %q", got)
	}
}

func TestTheBestLanguageIsFound(t *testing.T) {
	c := standard(t)
	for _, want := range []struct{ chosen, accept, lang string }{
		{"", "", "en"}, {"", "de-AT,de;q=0.9,en;q=0.5", "de"}, {"", "fr-FR,de;q=0.4", "de"}, {"", "fr-FR", "en"},
		{"de", "en", "de"}, {"en-US", "de", "en"}, {"de-CH", "", "de"}, {"nonsense!", "de", "de"}, {"", "not a header;;q", "en"},
	} {
		if got := c.Match(want.chosen, want.accept).Lang(); got != want.lang {
			t.Errorf("chosen %q, accepting %q: %q, want %q", want.chosen, want.accept, got, want.lang)
		}
	}
}

// Numbers and dates as CLDR has them for English and German: point and comma, a
// full stop after the day.
func TestNumbersAndDays(t *testing.T) {
	c := standard(t)
	en, de := c.Tongue("en"), c.Tongue("de")
	for v, want := range map[float64][2]string{0.31: {"0.31", "0,31"}, 1234567: {"1,234,567", "1.234.567"}, -1234.4: {"-1,234", "-1.234"}, 9.96: {"10", "10"}, 0.0001: {"0", "0"}} {
		if got := [2]string{en.Number(v), de.Number(v)}; got != want {
			t.Errorf("%v is written %q, want %q", v, got, want)
		}
	}
	if got := []string{en.Tick(15000), de.Tick(0.25), en.Tick(1e-14), en.Fixed(1.5, 2), de.Fixed(1234.5, 2)}; !slices.Equal(got, []string{"15,000", "0,25", "0", "1.50", "1.234,50"}) {
		t.Errorf("%q", got)
	}
	day := time.Date(2026, 3, 4, 0, 0, 0, 0, time.UTC)
	if got := []string{en.Day(day, false), en.Day(day, true), de.Day(day, false)}; !slices.Equal(got, []string{"Wed 4 Mar", "Wed Mar 4", "Mi 4. März"}) {
		t.Errorf("%q", got)
	}
}
