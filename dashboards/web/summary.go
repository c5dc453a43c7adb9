package web

import (
	"math"
	"regexp"
	"strings"

	"brinebell/dashboards/web/texts"
	"brinebell/detect"
)

// variants names, for kinds that come in several shapes, the word of the
// evidence that tells which; the catalogue has a sentence for each.
var variants = map[detect.Kind]string{
	detect.NightLeak: "pattern", detect.SaltBridgeKind: "sign", detect.BrineHigh: "sign", detect.MeterSlow: "meter", detect.MeterDead: "meter",
}

// wanted finds the names that a summary in the catalogue takes from the evidence.
var wanted = regexp.MustCompile(`\[([a-z_]+)\]`)

// summary is what the alert says, as a sentence in the reader's language and
// units: put together from its evidence where the catalogue knows how and the
// evidence has it all, or else as the detector said it.
func (r reader) summary(a detect.Alert) string {
	key := "summary." + string(a.Kind)
	if word, ok := a.Evidence[variants[a.Kind]].(string); ok {
		key = r.variant(key, strings.ReplaceAll(word, " ", "_"))
	}
	if text, ok := r.filled(r.Or(key, ""), a); ok {
		return text
	}
	if r.Lang() != texts.English { // the detector speaks English alone
		return r.kindTitle(a.Kind) + "."
	}
	return r.tidy(a)
}

// variant is the more particular key where the catalogue has it.
func (r reader) variant(key, word string) string {
	if r.Or(key+"."+word, "") != "" {
		return key + "." + word
	}
	return key
}

// filled puts the evidence into a summary; ok is false when some of it is not
// there.
func (r reader) filled(text string, a detect.Alert) (said string, ok bool) {
	ok = text != ""
	said = wanted.ReplaceAllStringFunc(text, func(hole string) string {
		value, has := r.told(strings.Trim(hole, "[]"), a)
		ok = ok && has
		return value
	})
	return said, ok
}

// told is one figure of an alert as words: of its evidence, or one that follows
// from its times.
func (r reader) told(name string, a detect.Alert) (string, bool) {
	switch name {
	case "since":
		return r.moment(a.Onset), true
	case "onset_day":
		return r.day(a.Onset), true
	}
	v, ok := a.Evidence[name]
	if !ok {
		return "", false
	}
	if n, isNumber := asNumber(v); isNumber && (math.IsNaN(n) || math.IsInf(n, 0)) {
		return "", false
	}
	return r.fact(name, v).Value, true
}

// tidy is the detector's own summary as a sentence; its numbers are grouped as
// all others are.
func (r reader) tidy(a detect.Alert) string {
	text := strings.TrimSpace(a.Summary)
	if text == "" {
		text = r.kindTitle(a.Kind)
	}
	text = sentenceCase(text)
	if !strings.ContainsAny(text[len(text)-1:], ".!?") {
		text += "."
	}
	text = ungrouped.ReplaceAllStringFunc(text, func(digits string) string { return digits[:len(digits)-3] + "," + digits[len(digits)-3:] })
	return unbroken.ReplaceAllString(text, "$1\u00a0$2")
}

// ungrouped finds thousands without their separator, but for years.
var ungrouped = regexp.MustCompile(`\b[1-9][0-9]{4,5}\b|\b[13-9][0-9]{3}\b`)

// unbroken finds numbers with their unit, which a line must not part.
var unbroken = regexp.MustCompile(`([0-9]) (L/min|L|mm|kg|kPa|gal/min|gpm|gal|lb|in|psi|min|h|%)\b`)
