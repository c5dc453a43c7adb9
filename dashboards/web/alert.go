package web

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"brinebell/detect"
	"brinebell/detect/cause"
)

// alertView is one alert with what speaks for it.
type alertView struct {
	ID, What, Summary string
	Level             level
	Since, Raised     string
	Cleared           string // empty while it stands
	HowSure           string
	Standing          string // said above the causes when none stands out
	Causes            []causeView
	Cautions          []string
	Facts, Expert     []fact
	Picture           pictureView
}

// causeView is one likely cause.
type causeView struct {
	cause.Text
	ID      string
	Words   string // the probability in words
	Percent int
	Care    string // its caution, where the alert's own do not have it
	For     []string
	Against []string
}

// causesShown is how many causes an alert names; what is left is said as one.
const causesShown = 4

// leastShown is the probability below which a cause is not named.
const leastShown = 0.03

// standsOut is the probability from which the first cause is more likely than
// not; below it none is called likely or unlikely.
const standsOut = 0.5

func (s *Server) alert(read reader, a detect.Alert) alertView {
	v := alertView{
		ID: "alert-" + a.ID, What: read.kindTitle(a.Kind), Summary: read.summary(a), Level: levelOf(a),
		Since: read.moment(a.Onset), Raised: read.moment(a.Raised),
	}
	if !a.Open() {
		v.Cleared = read.moment(a.Cleared)
	}
	for _, f := range read.facts(a.Evidence) {
		if f.Expert {
			v.Expert = append(v.Expert, f)
		} else {
			v.Facts = append(v.Facts, f)
		}
	}
	v.addCaution(read.figured(read.kindCaution(a.Kind)))
	causes := ranked(a)
	for i, c := range causes {
		text := read.causeText(s.CauseText(c.Cause), c.Cause)
		if i == 0 {
			v.addCaution(text.Caution)
		}
		v.Causes = append(v.Causes, causeView{text, v.ID + "-cause-" + strconv.Itoa(i+1), read.likelihood(c.Probability), percent(c.Probability), v.newCaution(text.Caution), nil, nil})
	}
	v.HowSure = read.howSure(causes)
	if len(causes) > 0 && causes[0].Probability < standsOut {
		v.Standing = read.Say("cause.standing")
	}
	return v
}

// ranked are the causes worth naming, the likeliest first.
func ranked(a detect.Alert) []detect.CauseShare {
	causes := slices.Clone(a.Causes)
	slices.SortStableFunc(causes, func(x, y detect.CauseShare) int { return cmp.Compare(y.Probability, x.Probability) })
	for i, c := range causes {
		if i == causesShown || c.Probability < leastShown && i > 0 {
			return causes[:i]
		}
	}
	return causes
}

// causeText is what people are told of a cause, in the reader's language.
func (r reader) causeText(t cause.Text, c detect.Cause) cause.Text {
	key := "cause." + string(c) + "."
	for _, part := range []struct {
		at   *string
		name string
	}{{&t.Title, "title"}, {&t.Household, "household"}, {&t.Technician, "technician"}, {&t.Check, "check"},
		{&t.Caution, "caution"}, {&t.Parts, "parts"}, {&t.Tools, "tools"}} {
		if *part.at != "" {
			*part.at = r.figured(r.Or(key+part.name, *part.at))
		}
	}
	return t
}

// addCaution keeps each caution once.
func (v *alertView) addCaution(text string) {
	if text = v.newCaution(text); text != "" {
		v.Cautions = append(v.Cautions, text)
	}
}

// newCaution is the caution if the alert does not show it yet. That of a less
// likely cause stands beside what it says to do, not before everything.
func (v *alertView) newCaution(text string) string {
	if slices.Contains(v.Cautions, text) {
		return ""
	}
	return text
}

// howSure says how far the cause is known, apart from what was measured.
func (r reader) howSure(causes []detect.CauseShare) string {
	switch {
	case len(causes) == 0:
		return r.Say("sure.unknown")
	case causes[0].Probability < standsOut:
		return r.Say("sure.open", "percent", percent(causes[0].Probability))
	}
	return r.Say("sure.first", "words", r.likelihood(causes[0].Probability), "percent", percent(causes[0].Probability))
}

// percent rounds to whole per cent; only what is certain is 100 and only what is
// impossible 0.
func percent(p float64) int {
	whole := int(math.Round(p * 100))
	switch {
	case p > 0 && whole == 0:
		return 1
	case p < 1 && whole == 100:
		return 99
	}
	return min(100, max(0, whole))
}
