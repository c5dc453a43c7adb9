package simulator

import (
	"cmp"
	"encoding/csv"
	"io"
	"slices"
	"strconv"
	"time"

	"brinebell/detect"
)

// Truth is one thing that was wrong at a home, from start to end; a severity is
// the worst it came to, 0 to 1. A household on holiday is written down too, as
// away_from_home: nothing broke, but it explains what is seen.
type Truth struct {
	Home       string
	Fault      detect.Cause
	Start, End time.Time
	Severity   float64
}

// SortTruth puts rows in order of home, start and fault.
func SortTruth(rows []Truth) {
	slices.SortFunc(rows, func(a, b Truth) int {
		return cmp.Or(cmp.Compare(a.Home, b.Home), a.Start.Compare(b.Start), cmp.Compare(a.Fault, b.Fault))
	})
}

// WriteTruth writes rows as CSV with the header home,fault,start,end,severity.
func WriteTruth(w io.Writer, rows []Truth) error {
	c := csv.NewWriter(w)
	if err := c.Write([]string{"home", "fault", "start", "end", "severity"}); err != nil {
		return err
	}
	for _, t := range rows {
		row := []string{t.Home, string(t.Fault), t.Start.UTC().Format(time.RFC3339), t.End.UTC().Format(time.RFC3339),
			strconv.FormatFloat(t.Severity, 'f', 3, 64)}
		if err := c.Write(row); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// longAbsence is how long a household is away before the truth says so.
const longAbsence = 2.0 // days

// Truth is what is wrong at the home during its whole run. Salt that is to run
// out does so when the last is used up: until then the row has the day from
// which nobody brings any, and if the run ends before, there is none. So ask
// once the run has ended.
func (h *Home) Truth() []Truth {
	end := time.UnixMilli(h.end).UTC()
	var rows []Truth
	add := func(c detect.Cause, from, to time.Time, severity float64) {
		if to.After(end) {
			to = end
		}
		if from.Before(h.start) {
			from = h.start
		}
		if from.Before(to) {
			rows = append(rows, Truth{h.profile.ID, c, from.UTC(), to.UTC(), severity})
		}
	}
	for _, f := range h.faults.all {
		worst := f.Severity
		if f.End.After(end) {
			worst = f.Level(end.Add(-time.Millisecond))
		}
		from := f.Start
		if f.Cause == detect.SaltEmpty {
			from = h.salt.ranOut(h.now >= h.end)
		}
		add(f.Cause, from, f.End, worst)
	}
	for _, a := range h.people.Absences(h.start, end) {
		if a.Days() >= longAbsence {
			add(detect.AwayFromHome, a.From, a.To, min(1, a.Days()/14))
		}
	}
	SortTruth(rows)
	return rows
}
