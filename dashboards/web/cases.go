package web

import (
	"context"
	"time"

	"brinebell/detect"
	"brinebell/detect/care"
)

// Case is a case as the pages show it.
type Case struct {
	care.Case
	Version         int64 // of its last step
	Opened, Changed time.Time
	Severity        detect.Severity
	Kind            detect.Kind  // of the lead alert
	Cause           detect.Cause // now first, or confirmed; may be empty
	Loss            care.Loss    // a day of waiting
	Watch           *care.WatchState
	Standing        []string // the alerts that stand
}

// Doing is what a person does to a case.
type Doing struct {
	Act     care.Act
	Alert   string       // of Answer and NotTrue
	Cause   detect.Cause // of Repair
	Text    string
	Due     time.Time
	Version int64 // of the case that the person saw
}

// Report is what people tell of a home.
type Report struct {
	At       time.Time
	By       string
	Symptoms map[string]bool
	Hardness map[detect.Signal]float64 // mg/L as CaCO3
	Checks   map[string]string
	Note     string
}

// Cases is where cases are kept and moved on. It checks by itself what the
// person may do. An error that is fit for a page has a method Plain.
type Cases interface {
	// Open lists the cases of these homes that are not closed, the dearest
	// first; of every home when homes is nil.
	Open(ctx context.Context, homes []string) ([]Case, error)
	// Case is one with all its steps; ok is false when there is none. The id of
	// any of its alerts finds it too.
	Case(ctx context.Context, id string) (c Case, ok bool, err error)
	Act(ctx context.Context, by care.Person, id string, d Doing) error
	Report(ctx context.Context, by care.Person, home string, r Report) error
	Reports(ctx context.Context, home string) ([]Report, error)
	// FalseAlarms counts, by kind, the alerts that people said were not true.
	FalseAlarms(ctx context.Context, firm string) ([]FalseAlarm, error)
}

// FalseAlarm is how often one kind of finding was said not to be true.
type FalseAlarm struct {
	Kind         detect.Kind
	Said, Raised int
}

// plain is an error whose text a reader may see.
type plain interface{ Plain() string }
