package cause

import (
	"fmt"
	"maps"

	"brinebell/detect"
)

// Session asks for one check after the other.
type Session struct {
	// Enough is the probability at which a cause counts as found. Default enough.
	Enough float64
	// Most is the number of checks after which it ends. Default mostChecks.
	Most int

	model    *Model
	evidence Evidence
	who      Who
	made     int
	skipped  map[string]bool
}

// Defaults of a session; common practice, no source.
const (
	enough     = 0.9 // a technician then goes ahead and mends
	mostChecks = 7   // people's patience
)

// Verdict is how a session stands.
type Verdict string

// The verdicts.
const (
	Ask            Verdict = "ask"             // make the next check
	Found          Verdict = "found"           // the first cause is certain enough to act on
	CallTechnician Verdict = "call_technician" // nothing more that a household could look at tells them apart
	Nothing        Verdict = "nothing"         // it is likelier that none of the causes is there than the first
	MostLikely     Verdict = "most_likely"     // no check is left that tells more: begin with the first cause
)

// Step is where a session stands: a diagnosis, and what to do with it.
type Step struct {
	Verdict Verdict
	Diagnosis
}

// NewSession begins with what is known already. The evidence is not changed.
func NewSession(m *Model, e Evidence, who Who) *Session {
	checks := maps.Clone(e.Checks)
	if checks == nil {
		checks = map[string]string{}
	}
	e.Checks = checks
	return &Session{Enough: enough, Most: mostChecks, model: m, evidence: e, who: who}
}

// Step says where the session stands.
func (s *Session) Step() Step {
	step, pieces := s.look()
	step.Diagnosis = s.model.explained(step.Diagnosis, pieces)
	return step
}

// look is Step without a word about why.
func (s *Session) look() (Step, []piece) {
	d, pieces := s.model.diagnose(s.evidence, s.who, plan{s.skipped, s.Most - s.made})
	return Step{s.judge(d), d}, pieces
}

func (s *Session) judge(d Diagnosis) Verdict {
	switch {
	case len(d.Causes) > 0 && d.Causes[0].Probability >= s.Enough:
		return Found
	case d.Next != nil && s.made < s.Most:
		return Ask
	case len(d.Causes) == 0 || d.None > d.Causes[0].Probability:
		return Nothing
	case s.who == Technician:
		return MostLikely
	}
	return CallTechnician
}

// Tell takes the outcome of a check.
func (s *Session) Tell(check, outcome string) error {
	c := s.model.Check(check)
	if c == nil || c.outcome(outcome) < 0 {
		return fmt.Errorf("check %q has no outcome %q", check, outcome)
	}
	s.evidence.Checks[check] = outcome
	s.made++
	return nil
}

// Skip leaves out a check that cannot be made here.
func (s *Session) Skip(check string) {
	if s.skipped == nil {
		s.skipped = map[string]bool{}
	}
	s.skipped[check] = true
}

// Evidence is all that is known by now.
func (s *Session) Evidence() Evidence { return s.evidence }

// First is the likeliest cause, empty when there is none.
func (d Diagnosis) First() detect.Cause {
	if len(d.Causes) == 0 {
		return ""
	}
	return d.Causes[0].Cause
}
