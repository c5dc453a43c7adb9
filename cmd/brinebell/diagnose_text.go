package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"brinebell/detect"
	"brinebell/detect/cause"
)

// shownCauses is how many causes are told in text.
const shownCauses = 4

// verdictWords say how a session ended.
var verdictWords = map[cause.Verdict]string{
	cause.Found:          "This is certain enough to act on.",
	cause.CallTechnician: "Nothing more that a household can look at tells these apart: call a technician.",
	cause.Nothing:        "Probably none of these causes is there. No finding is not proof that nothing is wrong.",
	cause.MostLikely:     "No further check tells these apart: begin with the first.",
}

func printDiagnosis(out io.Writer, step cause.Step, v *site) error {
	w := bufio.NewWriter(out)
	if v != nil {
		printSite(w, v)
	}
	printCauses(w, step)
	if step.Verdict == cause.Ask {
		printNext(w, step.Next)
	} else {
		fmt.Fprintln(w, verdictWords[step.Verdict])
	}
	if v != nil {
		printAdvice(w, step, v)
	}
	return w.Flush()
}

func printSite(w io.Writer, v *site) {
	fmt.Fprintf(w, "%s, up to %s: ", v.home.Name, v.end.In(v.home.Location).Format("2006-01-02 15:04"))
	if len(v.alerts) == 0 {
		fmt.Fprintln(w, "no alert is open.")
	}
	for i, a := range v.alerts {
		if i > 0 {
			fmt.Fprint(w, "; ")
		}
		fmt.Fprint(w, kindWords(a.Kind))
	}
	fmt.Fprint(w, "\n\n")
}

func printCauses(w io.Writer, step cause.Step) {
	if len(step.Causes) == 0 {
		fmt.Fprintln(w, "Nothing points to any cause.")
		return
	}
	if said := cause.Standing(step.Shares()); said != "" {
		fmt.Fprintln(w, said)
	}
	for i, c := range step.Causes[:min(shownCauses, len(step.Causes))] {
		fmt.Fprintf(w, "%3.0f %%  %s\n", 100*c.Probability, cause.Lookup(c.Cause).Title)
		for _, weight := range c.For {
			fmt.Fprintf(w, "       for:     %s\n", weight)
		}
		for _, weight := range c.Against {
			fmt.Fprintf(w, "       against: %s\n", weight)
		}
		if i == 0 {
			printTexts(w, cause.Lookup(c.Cause))
		}
	}
	fmt.Fprintf(w, "%3.0f %%  none of the causes\n\n", 100*step.None)
}

func printTexts(w io.Writer, x cause.Text) {
	fmt.Fprintf(w, "       Household:  %s\n       Technician: %s\n       Bring:      %s\n       Tools:      %s\n",
		x.Household, x.Technician, x.Parts, x.Tools)
	if x.Caution != "" {
		fmt.Fprintf(w, "       Caution:    %s\n", x.Caution)
	}
}

func printNext(w io.Writer, n *cause.Next) {
	c := n.Check
	fmt.Fprintf(w, "Next check (%s): %s\n  %.0f min, %s, tools: %s\n", c.ID, c.Asks, c.Minutes, c.Who, c.Tools)
	if c.Caution != "" {
		fmt.Fprintf(w, "  Caution: %s\n", c.Caution)
	}
	for _, o := range n.Outcomes {
		fmt.Fprintf(w, "  %s (%s, %.0f %%): %s. Then %s\n", o.Says, o.ID, 100*o.Chance, o.Means, thenWords(o.Then))
	}
}

func thenWords(then []detect.CauseShare) string {
	var words []string
	for _, c := range then {
		words = append(words, fmt.Sprintf("%.0f %% %s", 100*c.Probability, cause.Lookup(c.Cause).Title))
	}
	if len(words) == 0 {
		return "nothing is likely"
	}
	return strings.Join(words, ", ")
}

// printAdvice tells the advised setting where the present one does not fit.
func printAdvice(w io.Writer, step cause.Step, v *site) {
	if a, ok := v.advice(step); ok {
		fmt.Fprintf(w, "\nAdvised setting: hardness %.0f mg/L, %.1f kg of salt a regeneration, reserve %.0f %%; saves about %.0f %s a year.\n",
			a.Hardness, a.Advised.Dose, 100*a.Advised.Reserve, a.Saving(), v.home.Costs.Currency)
	}
}

type diagnosisJSON struct {
	Home    string        `json:"home,omitempty"`
	Verdict cause.Verdict `json:"verdict"`
	None    float64       `json:"none"`
	Causes  []causeJSON   `json:"causes"`
	Next    *nextJSON     `json:"next_check"`
	// Advice is there where the books or a measured hardness say that a setting
	// does not fit.
	Advice *adviceJSON `json:"settings_advice,omitempty"`
}

type causeJSON struct {
	Cause       detect.Cause   `json:"cause"`
	Probability float64        `json:"probability"`
	Title       string         `json:"title"`
	Household   string         `json:"household"`
	Technician  string         `json:"technician"`
	Parts       string         `json:"parts"`
	Tools       string         `json:"tools"`
	Caution     string         `json:"caution,omitempty"`
	For         []cause.Weight `json:"for"`
	Against     []cause.Weight `json:"against"`
}

type nextJSON struct {
	Check    string        `json:"check"`
	Asks     string        `json:"asks"`
	Minutes  float64       `json:"minutes"`
	Who      cause.Who     `json:"who"`
	Tools    string        `json:"tools"`
	Caution  string        `json:"caution,omitempty"`
	Bits     float64       `json:"bits"`
	Outcomes []outcomeJSON `json:"outcomes"`
}

type outcomeJSON struct {
	cause.Outcome
	Chance float64             `json:"chance"`
	Then   []detect.CauseShare `json:"then"`
}

func printDiagnosisJSON(out io.Writer, step cause.Step, v *site) error {
	d := diagnosisJSON{Verdict: step.Verdict, None: step.None, Causes: []causeJSON{}}
	if v != nil {
		d.Home = v.home.ID
		if a, ok := v.advice(step); ok {
			said := adviceOf(a, v.home.Costs.Currency)
			d.Advice = &said
		}
	}
	for _, c := range step.Causes {
		x := cause.Lookup(c.Cause)
		d.Causes = append(d.Causes, causeJSON{c.Cause, c.Probability, x.Title, x.Household, x.Technician, x.Parts, x.Tools, x.Caution,
			append([]cause.Weight{}, c.For...), append([]cause.Weight{}, c.Against...)})
	}
	if n := step.Next; step.Verdict == cause.Ask && n != nil {
		d.Next = &nextJSON{Check: n.Check.ID, Asks: n.Check.Asks, Minutes: n.Check.Minutes, Who: n.Check.Who, Tools: n.Check.Tools, Caution: n.Check.Caution, Bits: n.Bits}
		for _, o := range n.Outcomes {
			d.Next.Outcomes = append(d.Next.Outcomes, outcomeJSON{o.Outcome, o.Chance, append([]detect.CauseShare{}, o.Then...)})
		}
	}
	enc := json.NewEncoder(out)
	enc.SetEscapeHTML(false)
	return enc.Encode(d)
}
