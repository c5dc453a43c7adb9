package scorereport

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"

	"brinebell/detect"
	"brinebell/detect/score"
)

// Page is a page to be written.
type Page struct {
	Title  string
	Report *score.Report
	Change *score.Change // against a baseline; may be nil
}

//go:embed page.html
var pageHTML string

//go:embed page.css
var pageCSS string

// Write writes the page as one HTML document.
func (p Page) Write(w io.Writer) error {
	t, err := template.New("page").Funcs(template.FuncMap{
		"words": words, "percent": percent, "hours": score.Hours, "strip": strip, "delays": delays,
		"reliability": reliability, "alarms": alarms, "seen": seen,
	}).Parse(pageHTML)
	if err != nil {
		return fmt.Errorf("score page: %w", err)
	}
	return t.Execute(w, view{Page: p, CSS: template.CSS(pageCSS), Totals: p.Report.Totals()}) // #nosec G203 -- drawn by package chart, which escapes every text it sets
}

// view is what the template sees.
type view struct {
	Page
	CSS    template.CSS
	Totals score.Totals
}

// Recall is the share found of all that could be.
func (v view) Recall() score.Share { return score.Exact(v.Totals.Found, v.Totals.Counted) }

// Sureness is how honest the probabilities were, of what there were any.
func (v view) Sureness() []score.Sureness {
	return slices.DeleteFunc(slices.Clone(v.Report.Sureness), func(s score.Sureness) bool { return s.Count == 0 })
}

// Episodes are those of one fault.
func (v view) Episodes(c detect.Cause) []score.Judged {
	var of []score.Judged
	for _, j := range v.Report.Episodes {
		if j.Fault == c {
			of = append(of, j)
		}
	}
	return of
}

// Blind are the reasons why episodes were not visible, with how many each.
func (v view) Blind() []reason {
	var all []reason
	at := map[string]int{}
	for _, j := range v.Report.Episodes {
		if j.Outcome != score.NotVisible {
			continue
		}
		key := string(j.Fault) + j.Why
		if _, known := at[key]; !known {
			at[key] = len(all)
			all = append(all, reason{Fault: j.Fault, Why: j.Why})
		}
		all[at[key]].Count++
	}
	return all
}

type reason struct {
	Fault detect.Cause
	Why   string
	Count int
}

// words is an identifier as people say it.
func words(id any) string { return strings.ReplaceAll(fmt.Sprint(id), "_", " ") }

func percent(v float64) string { return fmt.Sprintf("%.0f %%", 100*v) }

// seen says whether anything of the fault could be found.
func seen(f score.Fault) bool { return f.Found+f.Missed > 0 }
