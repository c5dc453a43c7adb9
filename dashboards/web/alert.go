package web

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"brinebell/detect"
	"brinebell/detect/cause"
)

// alertView is one open alert with what speaks for it.
type alertView struct {
	ID, What, Summary string
	Condition         condition // its level only
	Since, Raised     string
	HowSure           string
	Causes            []causeView
	Cautions          []string
	Facts             []fact
}

// causeView is one likely cause.
type causeView struct {
	cause.Text
	ID      string
	Words   string // the probability in words
	Percent int
	Care    string // its caution, where the alert's own do not have it
}

// causesShown is how many causes an alert names; what is left is said as one.
const causesShown = 4

// leastShown is the probability below which a cause is not named.
const leastShown = 0.03

func (s *Server) alert(read reader, a detect.Alert) alertView {
	v := alertView{
		ID: "alert-" + a.ID, What: kindTitle(a.Kind), Summary: summaryOf(a),
		Condition: condition{Level: level(a.Severity.Rank())},
		Since:     read.moment(a.Onset), Raised: read.moment(a.Raised),
		Facts: read.facts(a.Evidence),
	}
	causes := slices.Clone(a.Causes)
	slices.SortStableFunc(causes, func(x, y detect.CauseShare) int { return cmp.Compare(y.Probability, x.Probability) })
	v.addCaution(kindCautions[a.Kind])
	for i, c := range causes {
		if i == causesShown || c.Probability < leastShown && i > 0 {
			break
		}
		text := s.CauseText(c.Cause)
		if i == 0 {
			v.addCaution(text.Caution)
		}
		v.Causes = append(v.Causes, causeView{text, v.ID + "-cause-" + strconv.Itoa(i+1), likelihood(c.Probability), percent(c.Probability), v.newCaution(text.Caution)})
	}
	v.HowSure = howSure(v.Causes)
	return v
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
func howSure(causes []causeView) string {
	if len(causes) == 0 {
		return "That it happens is measured; why is not known yet."
	}
	return "That it happens is measured. Why is less sure: the first cause listed is " + causes[0].Words + " (" + strconv.Itoa(causes[0].Percent) + " %)."
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
