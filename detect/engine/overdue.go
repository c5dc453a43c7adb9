package engine

import (
	"fmt"
	"time"

	"brinebell/detect"
)

const (
	// overdueAfter is how long a home must have been silent as a whole: a router
	// that is off for a night, or a mains cut, mends itself. Common practice, no
	// source.
	overdueAfter = 12 * time.Hour
	// overdueTimes the longest silence it ended by itself must be exceeded too,
	// counting such silences up to longestCounts.
	overdueTimes  = 3
	longestCounts = 48 * time.Hour
)

// LastHeard is the time of measurement of a home's newest reading; zero before the
// first.
func (e *Engine) LastHeard(id string) time.Time {
	h, ok := e.homes[id]
	if !ok || h.state.Order.Newest == 0 {
		return time.Time{}
	}
	return time.UnixMilli(h.state.Order.Newest).UTC()
}

// Overdue is the alert of a home from which nothing comes any more at all. The
// engine lives on times of measurement, so that such a silence is invisible to it:
// whoever has a clock asks, and says now. Asked again it answers the same alert
// (same id, onset and time of raising) for as long as nothing comes; ok is false
// while the home speaks, or never did. It is not among the alerts of Take.
//
// Needs: nothing but that the home once spoke. Statistic: the silence over
// overdueAfter and overdueTimes the longest one that ended by itself.
func (e *Engine) Overdue(id string, now time.Time) (a detect.Alert, ok bool) {
	last := e.LastHeard(id)
	if last.IsZero() {
		return a, false
	}
	h := e.homes[id]
	allowed := max(overdueAfter, overdueTimes*min(time.Duration(h.state.Longest)*time.Millisecond, longestCounts))
	due := last.Add(allowed)
	if now.Before(due) {
		return a, false
	}
	onset := last.Add(time.Second)
	return detect.Alert{
		ID: detect.AlertID(id, detect.SensorSilent, onset), Home: id, Kind: detect.SensorSilent,
		Severity: detect.ThisWeek, Onset: onset, Raised: due,
		Summary: fmt.Sprintf("Nothing has come from this home since %s: neither leaks nor its softener are watched. Look whether the hub has power and a connection.",
			last.In(h.profile.Location).Format("2 January 15:04")),
		Evidence: detect.Evidence{"signals": "all", "silent_h": allowed.Hours()},
		Causes:   []detect.CauseShare{{Cause: detect.SensorFault, Probability: 1}},
	}, true
}

// heard keeps the longest silence of the home as a whole.
func (h *home) heard(at int64) {
	if before := h.state.Assembler.Until; before != 0 && at > before {
		h.state.Longest = max(h.state.Longest, at-before)
	}
}
