package web

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"brinebell/detect"
	"brinebell/detect/regeneration"
)

// kindTitle is the finding in a few words for a household.
func (r reader) kindTitle(k detect.Kind) string { return r.Or("kind."+string(k), spoken(string(k))) }

// kindCaution is what to be careful of whatever the cause; empty for nothing.
func (r reader) kindCaution(k detect.Kind) string { return r.Or("caution."+string(k), "") }

// likelihood says a probability in words, after the scale of Intelligence
// Community Directive 203 (2015), whose bands do not overlap; from memory.
func (r reader) likelihood(p float64) string {
	switch {
	case p >= 0.95:
		return r.Say("odds.certain")
	case p >= 0.80:
		return r.Say("odds.very")
	case p >= 0.55:
		return r.Say("odds.likely")
	case p >= 0.45:
		return r.Say("odds.even")
	case p >= 0.20:
		return r.Say("odds.unlikely")
	}
	return r.Say("odds.slim")
}

func (r reader) phaseName(p detect.Phase) string { return r.Or("phase."+string(p), spoken(string(p))) }

func (r reader) endingWords(e regeneration.Ending) string {
	return r.Or("ending."+string(e), strings.ReplaceAll(string(e), "_", " "))
}

func sentenceCase(text string) string {
	first, size := utf8.DecodeRuneInString(text)
	if size == 0 {
		return text
	}
	return string(unicode.ToUpper(first)) + text[size:]
}

// spoken is an identifier as words, for what the catalogue does not know.
func spoken(name string) string { return sentenceCase(strings.ReplaceAll(name, "_", " ")) }
