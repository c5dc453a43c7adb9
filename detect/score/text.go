package score

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"brinebell/detect"
)

// WriteText writes the report for people.
func (r *Report) WriteText(out io.Writer) error {
	w := &printer{out: out}
	t := r.Totals()
	w.f("%d homes, %.1f home-years, %d episodes, %d alerts\n", r.Homes, r.Years, len(r.Episodes), len(r.Alerts))
	if r.Unwatched > 0 {
		w.f("%d episodes of the truth lie at homes or times that were not watched and are left out\n", r.Unwatched)
	}
	w.faults(r)
	if t.Counted > 0 {
		s := Exact(t.Found, t.Counted)
		w.f("\nFound %d of %d faults: %s\n", t.Found, t.Counted, percents(s))
	}
	w.causes(r.Causes)
	w.beside(r)
	w.falseAlarms(r)
	w.sureness(r)
	return w.err
}

// printer keeps the first error.
type printer struct {
	out io.Writer
	err error
}

func (w *printer) f(format string, args ...any) {
	if w.err == nil {
		_, w.err = fmt.Fprintf(w.out, format, args...)
	}
}

// table writes rows of cells in columns, the first to the left and the others
// to the right.
func (w *printer) table(rows [][]string) {
	tw := tabwriter.NewWriter(w.out, 0, 0, 2, ' ', tabwriter.AlignRight)
	width := 0
	for _, row := range rows {
		width = max(width, len(row[0]))
	}
	for _, row := range rows {
		if w.err != nil {
			return
		}
		_, w.err = fmt.Fprintf(tw, "%-*s\t%s\t\n", width, row[0], strings.Join(row[1:], "\t"))
	}
	if err := tw.Flush(); w.err == nil {
		w.err = err
	}
}

func (w *printer) faults(r *Report) {
	if len(r.Faults) == 0 {
		return
	}
	w.f("\nFaults\n")
	rows := [][]string{{"fault", "episodes", "found", "missed", "share found", "median delay", "worst", "cause first", "in first 3", "90 % from"}}
	for _, f := range r.Faults {
		rows = append(rows, f.row())
	}
	w.table(rows)
}

func (f Fault) row() []string {
	row := []string{string(f.Fault), fmt.Sprint(f.Episodes), fmt.Sprint(f.Found), fmt.Sprint(f.Missed), "-", "-", "-", "-", "-", "-"}
	if f.Recall != nil {
		row[4] = percents(*f.Recall)
	}
	if f.Found > 0 {
		row[5], row[6] = Hours(*f.Median), Hours(*f.Worst)
		row[7], row[8] = fmt.Sprintf("%d of %d", f.First, f.Found), fmt.Sprintf("%d of %d", f.FirstThree, f.Found)
	}
	if f.Smallest > 0 {
		row[9] = fmt.Sprintf("%.2f", f.Smallest)
	}
	return row
}

func percents(s Share) string {
	return fmt.Sprintf("%.0f %% (%.0f to %.0f)", 100*s.Share, 100*s.Low, 100*s.High)
}

// Hours writes a length of time in the unit people would.
func Hours(h float64) string {
	switch {
	case h < 1:
		return fmt.Sprintf("%.0f min", 60*h)
	case h < 48:
		return fmt.Sprintf("%.1f h", h)
	}
	return fmt.Sprintf("%.1f d", h/24)
}

// beside says what counts neither as found nor as missed, and why.
func (w *printer) beside(r *Report) {
	var rows [][]string
	repeats, late := 0, 0
	for _, f := range r.Faults {
		repeats, late = repeats+f.Repeats, late+f.Late
		if f.NotVisible+f.Masked+f.Undecided > 0 {
			rows = append(rows, []string{string(f.Fault), fmt.Sprint(f.NotVisible), fmt.Sprint(f.Masked), fmt.Sprint(f.Undecided)})
		}
	}
	if late > 0 {
		w.f("Of the missed, %d were found, but too late to help.\n", late)
	}
	if repeats > 0 {
		w.f("%d alerts repeated one of the same fault.\n", repeats)
	}
	if len(rows) == 0 {
		return
	}
	w.f("\nNeither found nor missed: not visible to the home's sensors, its alert already standing for another fault,\nor the recording over too soon to tell\n")
	w.table(append([][]string{{"fault", "not visible", "masked", "undecided"}}, rows...))
	whys, order := map[string]int{}, []string{}
	for _, j := range r.Episodes {
		if j.Outcome == NotVisible {
			key := string(j.Fault) + ": " + j.Why
			if whys[key] == 0 {
				order = append(order, key)
			}
			whys[key]++
		}
	}
	for _, key := range order {
		w.f("  %d x %s\n", whys[key], key)
	}
}

func (w *printer) falseAlarms(r *Report) {
	w.f("\nFalse alarms per home-year, with the interval of 95 %% over homes\n")
	rows := [][]string{{"kind", "alerts", "right", "consequence", "false", "homes", "per home-year", "interval"}}
	for _, f := range r.False {
		rows = append(rows, f.row(string(f.Kind)))
	}
	rows = append(rows, r.FalseAll.row("all"), r.FalseActNow.row("of these "+string(detect.ActNow)))
	w.table(rows)
}

func (f FalseRate) row(name string) []string {
	return []string{name, fmt.Sprint(f.Alerts), fmt.Sprint(f.Right), fmt.Sprint(f.Consequences), fmt.Sprint(f.False), fmt.Sprint(f.Homes),
		fmt.Sprintf("%.3f", f.PerYear), fmt.Sprintf("%.3f to %.3f", f.Low, f.High)}
}

func (w *printer) sureness(r *Report) {
	for _, s := range r.Sureness {
		if s.Count == 0 {
			continue
		}
		w.f("\nHow sure and how right, %s of an alert: %d, calibration error %.3f, Brier score %.3f\n", s.Of, s.Count, s.Error, s.Brier)
		rows := [][]string{{"said", "causes", "mean said", "right"}}
		for _, b := range s.Bins {
			rows = append(rows, []string{fmt.Sprintf("%.0f to %.0f %%", 100*b.From, 100*b.To), fmt.Sprint(b.Count),
				fmt.Sprintf("%.0f %%", 100*b.Said), percents(b.Right)})
		}
		w.table(rows)
	}
}

// WriteText writes the comparison for people.
func (c Change) WriteText(out io.Writer) error {
	w := &printer{out: out}
	w.f("\nAgainst the baseline: found %d of %d, was %d of %d; false alarms per home-year %.3f, was %.3f\n",
		c.Now.Found, c.Now.Counted, c.Before.Found, c.Before.Counted, c.Now.PerYear, c.Before.PerYear)
	if c.OnlyThen+c.OnlyNow > 0 {
		w.f("The two are not of the same homes: %d episodes only in the baseline, %d only now.\n", c.OnlyThen, c.OnlyNow)
	}
	w.pairs("Found now", c.Found)
	w.pairs("Found no more", c.Lost)
	w.alarms("False alarms that came", c.Came)
	w.alarms("False alarms that went", c.Went)
	return w.err
}

func (w *printer) pairs(title string, all []Pair) {
	w.f("%s: %d\n", title, len(all))
	for _, p := range all {
		w.f("  %s %s %s, severity %.2f: %s, was %s\n", p.Now.Home, p.Now.Start.Format("2006-01-02"), p.Now.Fault, p.Now.Severity, p.Now.Outcome, p.Before.Outcome)
	}
}

func (w *printer) alarms(title string, all []Heard) {
	w.f("%s: %d\n", title, len(all))
	for _, h := range all {
		w.f("  %s %s %s (%s)\n", h.Home, h.Raised.Format("2006-01-02"), h.Kind, h.Severity)
	}
}
