package cause

import (
	"strings"
	"testing"
	"unicode"

	"brinebell/detect"
)

// Every cause has its own words for everything, and no two say the same.
func TestTextsComplete(t *testing.T) {
	seen := map[string]detect.Cause{}
	for _, c := range detect.Causes() {
		x := Lookup(c)
		for _, s := range []string{x.Title, x.Household, x.Technician, x.Check, x.Parts + "; " + x.Tools} {
			if other, dup := seen[s]; s == "" || dup && other != c {
				t.Errorf("%s: text %q is empty or also of %s", c, s, other)
			}
			seen[s] = c
		}
		if x.Parts == "" || x.Tools == "" {
			t.Errorf("%s: no parts or tools", c)
		}
	}
}

// The cautions stand where the work can hurt somebody.
func TestCautions(t *testing.T) {
	for c, word := range map[detect.Cause]string{
		detect.ResinFouled: "bleach", detect.SaltEmpty: "low-sodium", detect.NoPower: "Electricity", detect.DriveFailed: "Electricity",
		detect.SealsWorn: "pressure", detect.InjectorClogged: "pressure", detect.SupplyLineLeak: "licensed", detect.DrainRestricted: "air gap",
		detect.DrippingFixture: "scald", detect.AwayFromHome: "flush", detect.MeterJammed: "pressure", detect.SaltBridge: "kg",
	} {
		if !strings.Contains(Lookup(c).Caution, word) {
			t.Errorf("%s: caution does not speak of %q", c, word)
		}
	}
}

// syllables counts groups of vowels, a silent e at the end left out: right for
// most English words, off by one for some.
func syllables(word string) int {
	n, before := 0, false
	for _, r := range word {
		vowel := strings.ContainsRune("aeiouy", unicode.ToLower(r))
		if vowel && !before {
			n++
		}
		before = vowel
	}
	if n > 1 && strings.HasSuffix(word, "e") && !strings.HasSuffix(word, "le") {
		n--
	}
	return max(1, n)
}

// readingEase is Flesch's measure (R. Flesch, "A new readability yardstick",
// J. Appl. Psychol. 32, 1948; formula from memory): 206.835 - 1.015 words per
// sentence - 84.6 syllables per word. 60 to 70 is plain English.
func readingEase(text string) float64 {
	words := strings.FieldsFunc(text, func(r rune) bool { return !unicode.IsLetter(r) && r != '\'' })
	count := 0
	for _, w := range words {
		count += syllables(w)
	}
	sentences := max(1, strings.Count(text, ". ")+strings.Count(text, "? ")+1)
	n := float64(len(words))
	return 206.835 - 1.015*n/float64(sentences) - 84.6*float64(count)/n
}

func TestHouseholdTextsArePlain(t *testing.T) {
	sum := 0.0
	for _, c := range detect.Causes() {
		ease := readingEase(Lookup(c).Household)
		if sum += ease; ease < 55 {
			t.Errorf("%s: reading ease %.0f: %s", c, ease, Lookup(c).Household)
		}
	}
	mean := sum / float64(len(detect.Causes()))
	if t.Logf("mean reading ease %.0f", mean); mean < 65 {
		t.Error("the texts are not plain on the whole")
	}
}

// Every cause can be told by some finding, and settled by some check, so that
// none is beyond reach.
func TestEveryCauseIsWithinReach(t *testing.T) {
	m := Standard()
	for c, name := range m.names {
		found, checked := false, false
		for _, f := range m.findings {
			found = found || f.chance[c] > 0
		}
		for _, k := range m.checks {
			for s := 1; s < k.effect.States(); s++ {
				checked = checked || k.effect.Chance(m.space.All[1+c], s) > 0.5
			}
		}
		if !found || !checked {
			t.Errorf("%s: found %v, settled by a check %v", name, found, checked)
		}
	}
}
