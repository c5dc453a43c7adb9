package cause

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"brinebell/detect"
)

// Evidence is all that is known of a home. What is not in it was not looked at
// and is left out of the reckoning.
type Evidence struct {
	Findings []Finding
	// Visible are the kinds that this home's sensors and its detectors would
	// show. One that is not among Findings speaks against its causes.
	Visible []detect.Kind
	// Age is how long ago the trouble began. Detectors that need longer are not
	// yet held to their silence. 0: long enough for all.
	Age time.Duration
	// Symptoms are the answers of people who were asked, by identifier.
	Symptoms map[string]bool
	// Hardness is what was measured, mg/L as CaCO3, by raw_hardness,
	// cold_hardness and hot_hardness.
	Hardness map[detect.Signal]float64
	// SetFor is the raw hardness that the softener is set up for, mg/L; 0 when
	// nobody knows.
	SetFor float64
	// Checks are the answers to checks made, by identifier.
	Checks map[string]string
}

// Finding is an open finding with its detector's evidence.
type Finding struct {
	Kind    detect.Kind
	Details detect.Evidence
}

// ironHigh is the iron, mg/L, from which it fouls resin and injector (EPA
// secondary standard, 0.3 mg/L; from memory).
const ironHigh = 0.3

// WithProfile is the evidence with what the home's profile tells: what the
// softener is set up for, and iron where somebody found it. No iron in a profile
// may mean that nobody measured it, so that tells nothing.
func (e Evidence) WithProfile(w detect.Water) Evidence {
	e.SetFor = w.Hardness
	if _, tested := e.Checks[ironCheck]; w.Iron >= ironHigh && !tested {
		e.Checks = maps.Clone(e.Checks)
		if e.Checks == nil {
			e.Checks = map[string]string{}
		}
		e.Checks[ironCheck] = "high"
	}
	return e
}

// ironCheck is the check that a profile's iron answers.
const ironCheck = "test_iron"

// Has says whether a finding of this kind is open.
func (e Evidence) Has(k detect.Kind) bool {
	return slices.ContainsFunc(e.Findings, func(f Finding) bool { return f.Kind == k })
}

// Validate names the first thing in the evidence that the table does not know.
func (m *Model) Validate(e Evidence) error {
	for _, f := range e.Findings {
		if m.finding(f.Kind) == nil {
			return fmt.Errorf("unknown finding %q", f.Kind)
		}
	}
	for _, id := range slices.Sorted(maps.Keys(e.Symptoms)) {
		if !slices.ContainsFunc(m.symptoms, func(s *Symptom) bool { return s.ID == id }) {
			return fmt.Errorf("unknown symptom %q", id)
		}
	}
	for _, id := range slices.Sorted(maps.Keys(e.Checks)) {
		c := m.Check(id)
		if c == nil {
			return fmt.Errorf("unknown check %q", id)
		}
		if c.outcome(e.Checks[id]) < 0 {
			return fmt.Errorf("check %q has no outcome %q", id, e.Checks[id])
		}
	}
	return validateHardness(e.Hardness)
}

// validateHardness names a measurement that cannot be.
func validateHardness(measured map[detect.Signal]float64) error {
	for _, s := range slices.Sorted(maps.Keys(measured)) {
		if s != detect.RawHardness && s != detect.ColdHardness && s != detect.HotHardness {
			return fmt.Errorf("%s is no hardness", s)
		}
		if v := measured[s]; !(v >= 0) || math.IsInf(v, 0) {
			return fmt.Errorf("%s of %v mg/L cannot be", s, v)
		}
	}
	return nil
}
