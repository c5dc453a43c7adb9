package care

import (
	"fmt"
	"slices"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/regeneration"
)

// Watch is what a home must show before a repair counts as held.
type Watch struct {
	Nights        int    // nights without a finding of the case, each with the sensors heard
	Regenerations int    // right ones in a row
	Reason        string // why so many
	Hour          bool   // only at the programmed hour are they right
}

// Patience is how long a watch lasts at most. A home whose sensors show no
// regenerations would else be watched for ever.
const Patience = 45 * 24 * time.Hour

// grace is how many nights more than the watch asks for an alert may stand after
// a repair: some findings need quiet nights to be over.
const grace = 3

// The local hours of a night that count, by the wall clock.
const (
	nightFrom = 0
	nightTo   = 5
)

// Seen is what a home has shown.
type Seen struct {
	Until    time.Time      // the home is judged up to this time of measurement
	Location *time.Location // of its nights
	Entries  []books.Entry  // its regenerations since the repair, oldest first
	Alerts   []detect.Alert // of the case
	Silent   []detect.Span  // when sensors were silent; those nights do not count
}

// Outcome is how a watch stands.
type Outcome string

// The outcomes.
const (
	Pending  Outcome = "pending"
	Proven   Outcome = "proven"   // the repair held
	Unproven Outcome = "unproven" // nothing speaks against it, but not enough was seen within Patience
	Failed   Outcome = "failed"   // what was repaired is still there
)

// WatchState is how far a watch has come.
type WatchState struct {
	Watch
	Since              time.Time // the repair
	QuietNights        int
	RightRegenerations int       // in a row, up to the last
	WrongRegenerations int       // in a row, up to the last
	Until              time.Time // when Patience ends
	Outcome            Outcome
	At                 time.Time // of the outcome, in time of measurement; zero while pending
}

// Judge says how far the watch after a repair has come. The first moment at
// which its outcome was certain decides, not when it is asked: the same readings
// give the same At.
func (w Watch) Judge(since time.Time, s Seen) WatchState {
	for _, t := range w.moments(since, s) {
		if st := w.at(since, s.upTo(t)); st.Outcome != Pending {
			return st
		}
	}
	return w.at(since, s)
}

// moments are those at which something is seen, in order.
func (w Watch) moments(since time.Time, s Seen) (out []time.Time) {
	out = append(nightEnds(since, s), w.limit(since), since.Add(Patience))
	for _, e := range s.Entries {
		out = append(out, e.End)
	}
	for _, a := range s.Alerts {
		out = append(out, a.Raised, a.Cleared)
	}
	out = slices.DeleteFunc(out, func(t time.Time) bool { return t.Before(since) || t.After(s.Until) })
	slices.SortFunc(out, time.Time.Compare)
	return out
}

// limit is until when an alert may stand after the repair.
func (w Watch) limit(since time.Time) time.Time {
	return since.Add(time.Duration(w.Nights+grace) * 24 * time.Hour)
}

// upTo is what was seen up to a time: what was raised later was not known then,
// and what was over later still stood.
func (s Seen) upTo(t time.Time) Seen {
	u := Seen{Until: t, Location: s.Location, Entries: s.Entries, Silent: s.Silent}
	for _, a := range s.Alerts {
		if a.Raised.After(t) {
			continue
		}
		if a.Cleared.After(t) {
			a.Cleared = time.Time{}
		}
		u.Alerts = append(u.Alerts, a)
	}
	return u
}

// at judges all that was seen.
func (w Watch) at(since time.Time, s Seen) WatchState {
	st := WatchState{Watch: w, Since: since, Until: since.Add(Patience), Outcome: Pending, QuietNights: quietNights(since, s)}
	st.count(since, s)
	standing := slices.ContainsFunc(s.Alerts, detect.Alert.Open)
	switch {
	case !standing && st.QuietNights >= w.Nights && st.RightRegenerations >= w.Regenerations:
		st.Outcome = Proven
	case standing && (w.Nights > 0 && !s.Until.Before(w.limit(since)) || w.Regenerations > 0 && st.WrongRegenerations > w.Regenerations):
		st.Outcome = Failed
	case s.Until.Before(st.Until):
		return st
	case standing:
		st.Outcome = Failed
	default:
		st.Outcome = Unproven
	}
	st.At = s.Until
	return st
}

// count counts the right or the wrong regenerations at the end.
func (st *WatchState) count(since time.Time, s Seen) {
	for _, e := range s.Entries {
		switch {
		case e.Start.Before(since) || e.End.After(s.Until):
		case Right(e, st.Hour):
			st.RightRegenerations++
			st.WrongRegenerations = 0
		default:
			st.WrongRegenerations++
			st.RightRegenerations = 0
		}
	}
}

// Right says whether a regeneration was as it should be. That it differs from
// the profile while it is as it always was says something of the profile. One
// begun by hand, as after a repair, is right too unless the hour is in question.
func Right(e books.Entry, hour bool) bool {
	return e.Ending == regeneration.Completed && len(e.Missing) == 0 && !slices.ContainsFunc(e.Reasons, func(r books.Reason) bool {
		switch r {
		case books.BrineOffProgramme, books.RefillOffProgramme, books.DrainOffProgramme:
			return false
		case books.OffHour:
			return hour
		}
		return true
	})
}

// quietNights counts the nights since a repair that were quiet.
func quietNights(since time.Time, s Seen) (n int) {
	for _, to := range nightEnds(since, s) {
		local := to.In(s.Location)
		from := time.Date(local.Year(), local.Month(), local.Day(), nightFrom, 0, 0, 0, s.Location)
		if quiet(detect.Span{From: from, To: to}, s) {
			n++
		}
	}
	return n
}

// nightEnds are the ends of the local nights that lie between a repair and the
// time up to which the home is judged, no more than Patience allows.
func nightEnds(since time.Time, s Seen) (ends []time.Time) {
	if s.Location == nil {
		return nil
	}
	local := since.In(s.Location)
	for day := 0; ; day++ {
		at := func(hour int) time.Time {
			return time.Date(local.Year(), local.Month(), local.Day()+day, hour, 0, 0, 0, s.Location)
		}
		if to := at(nightTo); to.After(s.Until) || to.After(since.Add(Patience)) {
			return ends
		} else if !at(nightFrom).Before(since) {
			ends = append(ends, to.UTC())
		}
	}
}

// quiet says whether no finding of the case stood and no sensor was silent.
func quiet(night detect.Span, s Seen) bool {
	for _, a := range s.Alerts {
		if a.Onset.Before(night.To) && (a.Open() || a.Cleared.After(night.From)) {
			return false
		}
	}
	return !slices.ContainsFunc(s.Silent, func(x detect.Span) bool {
		return x.From.Before(night.To) && (x.To.IsZero() || x.To.After(night.From))
	})
}

// Words say how the watch came out, or how far it is.
func (st WatchState) Words() string {
	seen := fmt.Sprintf("%d of %d quiet nights and %d of %d right regenerations were seen", min(st.QuietNights, st.Nights), st.Nights,
		min(st.RightRegenerations, st.Regenerations), st.Regenerations)
	switch st.Outcome {
	case Proven:
		return "The repair has held: " + seen + "."
	case Unproven:
		return fmt.Sprintf("Nothing speaks against the repair, but within %d days only %s.", int(Patience.Hours()/24), seen)
	case Failed:
		return "What was repaired is still there: " + seen + "."
	}
	return "So far " + seen + "."
}
