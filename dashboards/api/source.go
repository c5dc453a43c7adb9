package api

import (
	"context"
	"errors"
	"io"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/care"
	"brinebell/detect/cause"
	"brinebell/detect/regeneration"
)

// ErrStale means that something has changed since whoever changes it saw it.
var ErrStale = errors.New("it has changed meanwhile")

// Point is the readings of a signal over one span of time; see the pages.
type Point struct {
	Time time.Time `json:"time" doc:"start of the span"`
	Min  float64   `json:"min" doc:"of a running total: at the start of the span"`
	Mean float64   `json:"mean"`
	Max  float64   `json:"max" doc:"of a running total: at its end"`
}

// Value is one reading.
type Value struct {
	Time  time.Time
	Value float64
}

// Regeneration is a recognised regeneration with what the books say of it.
type Regeneration struct {
	regeneration.Record
	Entry *books.Entry // nil when it was not booked
}

// Refused is something that a sensor sent and that could not be used.
type Refused struct {
	Topic  string    `json:"topic" doc:"empty for a client that was not let in"`
	Reason string    `json:"reason"`
	Detail string    `json:"detail"`
	Count  int       `json:"count"`
	First  time.Time `json:"first"`
	Last   time.Time `json:"last"`
}

// Homes is where homes and what is known of them come from. A home that is not
// there gives care.ErrNone.
type Homes interface {
	Homes() []detect.Home
	Home(id string) (h detect.Home, ok bool)
	Profile(ctx context.Context, home string) (string, error)
	PutHome(ctx context.Context, h detect.Home, profile string) error
	RemoveHome(ctx context.Context, home string) error
	Export(ctx context.Context, home string, out io.Writer) error
	Alerts(ctx context.Context, home string) ([]detect.Alert, error)
	Regenerations(ctx context.Context, home string, from, to time.Time) ([]Regeneration, error)
	Books(ctx context.Context, home string) (books.Books, bool)
	Points(ctx context.Context, home string, s detect.Signal, from, to time.Time, most int) ([]Point, error)
	Latest(ctx context.Context, home string) (map[detect.Signal]Value, error)
	// Changes gives a value after alerts or cases have changed, until ctx ends.
	Changes(ctx context.Context) <-chan struct{}
	Refused() []Refused
}

// Case is a case with what is worked out for its list; see package care.
type Case struct {
	care.Case
	Version         int64
	Opened, Changed time.Time
	Severity        detect.Severity
	Kind            detect.Kind
	Cause           detect.Cause
	Loss            care.Loss
	Watch           *care.WatchState
	Standing        []string
}

// CaseQuery asks for a page of cases.
type CaseQuery struct {
	Homes    []string // nil for all
	Stages   []care.Stage
	Since    time.Time
	ByChange bool // newest first, not dearest
	After    string
	Limit    int
}

// Doing is what somebody does about a case.
type Doing struct {
	Act     care.Act
	Alert   string
	Cause   detect.Cause
	Text    string
	Due     time.Time
	Version int64
}

// Report is what people report of a home.
type Report struct {
	At       time.Time
	By       string
	Symptoms map[string]bool
	Hardness map[detect.Signal]float64
	Checks   map[string]string
	Note     string
}

// Confirmation is a cause that a firm has confirmed.
type Confirmation struct {
	ID     int64        `json:"id"`
	Home   string       `json:"home"`
	Case   string       `json:"case"`
	Cause  detect.Cause `json:"cause"`
	By     string       `json:"by"`
	At     time.Time    `json:"at"`
	Undone *time.Time   `json:"undone" doc:"null while it counts"`
}

// Cases is where cases and reports are kept. It checks once more who may.
// Errors: care.ErrNone, ErrStale, care.ErrBad with why, *care.Refusal.
type Cases interface {
	List(ctx context.Context, q CaseQuery) (cases []Case, next string, err error)
	Case(ctx context.Context, id string) (Case, error)
	Act(ctx context.Context, by care.Person, id string, d Doing) (Case, error)
	Report(ctx context.Context, by care.Person, home string, r Report) error
	Reports(ctx context.Context, home string) ([]Report, error)
	Evidence(ctx context.Context, home string) (cause.Evidence, error)
	Experience(ctx context.Context, firm string) (cause.Experience, error)
	Confirmations(ctx context.Context, firm string) ([]Confirmation, error)
	Undo(ctx context.Context, by care.Person, id int64) error
}

// People is where accounts are kept. Errors are those of package care.
type People interface {
	Place(ctx context.Context, home string) (care.Place, error)
	Places(ctx context.Context) ([]care.Place, error)
	SetPlace(ctx context.Context, p care.Place) error

	Firms(ctx context.Context) ([]care.Firm, error)
	Firm(ctx context.Context, id string) (care.Firm, error)
	AddFirm(ctx context.Context, f care.Firm) error
	RenameFirm(ctx context.Context, f care.Firm) error

	People(ctx context.Context, firm string) ([]care.Person, error)
	Person(ctx context.Context, id string) (care.Person, error)
	Add(ctx context.Context, p care.Person) (care.Person, error)
	Change(ctx context.Context, p care.Person) error
	Remove(ctx context.Context, id string) error
	Invite(ctx context.Context, id string, valid time.Duration) (secret string, err error)

	Tokens(ctx context.Context, person string) ([]care.Token, error)
	AddToken(ctx context.Context, t care.Token) (made care.Token, secret string, err error)
	RemoveToken(ctx context.Context, person, id string) error

	Devices(ctx context.Context, home string) ([]care.Device, error)
	AddDevice(ctx context.Context, d care.Device) (password string, err error)
	ChangeDevice(ctx context.Context, d care.Device) error
	NewDevicePassword(ctx context.Context, home, id string) (password string, err error)
	RemoveDevice(ctx context.Context, home, id string) error

	Note(ctx context.Context, d care.Deed) error
	Audit(ctx context.Context, q care.DeedQuery) ([]care.Deed, error)
}
