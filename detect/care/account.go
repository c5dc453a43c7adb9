package care

import (
	"errors"
	"regexp"
	"time"
)

// Why something about people was not done. Their texts are fit for whoever
// asked.
var (
	// ErrNone means that there is no such firm, person, home, link, token or
	// device.
	ErrNone = errors.New("there is none")
	// ErrTaken means that another has that id or e-mail address.
	ErrTaken = errors.New("taken already")
	// ErrWrong means that a proof of who somebody is was not accepted, for
	// whatever reason.
	ErrWrong = errors.New("not accepted")
	// ErrBad means that what was given cannot be stored; the error that wraps
	// it says why.
	ErrBad = errors.New("cannot be taken")
)

// Newcomer is the address of the first operator until they have said who they
// are; nobody has one there (RFC 2606, section 2).
const Newcomer = "operator@setup.invalid"

// Scope is what a token is good for, at most: its holder may still do only what
// the person may who made it.
type Scope string

// The scopes.
const (
	ReadScope    Scope = "read"    // see
	WriteScope   Scope = "write"   // see and change
	DevicesScope Scope = "devices" // set up devices and check sensors, nothing else
)

// Scopes lists them all.
func Scopes() []Scope { return []Scope{ReadScope, WriteScope, DevicesScope} }

// Covers says whether a token of that scope is good for an action.
func (s Scope) Covers(a Action) bool {
	switch s {
	case WriteScope:
		return true
	case ReadScope:
		return !a.Changes()
	case DevicesScope:
		return a == SetUpDevices || a == CheckSensor
	}
	return false
}

// Token lets a program act for a person. Its secret is shown once, when it is
// made, and not kept.
type Token struct {
	ID      string
	Person  string
	Name    string // what it is for, in the person's words
	Scope   Scope
	Created time.Time
	Expires time.Time
	Used    time.Time // about when last; zero when never
}

// Device is what publishes for a home.
type Device struct {
	Home string
	ID   string // [a-z0-9-], unique at the home
	Name string
	// Topics are those it publishes on beside homes/<home>/sensors/<id>, when it
	// speaks no SenML.
	Topics   []string
	Password bool // it has one; else it needs a certificate
	Disabled bool
	Created  time.Time
}

var deviceID = regexp.MustCompile(`^[a-z0-9]([a-z0-9-]{0,38}[a-z0-9])?$`)

// CheckDeviceID says what is wrong with a device's id, or nil.
func CheckDeviceID(id string) error {
	if !deviceID.MatchString(id) {
		return errors.New("a device's id is up to 40 small letters, digits and hyphens, as in water-meter")
	}
	return nil
}

// Login is the device's user name at a broker, and the common name of its
// certificate.
func (d Device) Login() string { return d.Home + "/" + d.ID }

// Topic is where a device that speaks SenML publishes.
func (d Device) Topic() string { return "homes/" + d.Home + "/sensors/" + d.ID }

// Deed is one entry of the audit trail: what somebody did.
type Deed struct {
	ID      int64 // grows
	At      time.Time
	Person  string // id; empty for the command line
	Firm    string // whose trail it belongs to; empty for the installation's
	Home    string // empty when it is about no home
	Act     string // as in "person added"
	Subject string // id of what it was done to
	Detail  string // never a secret
	Address string // where the request came from
}

// DeedQuery asks for a part of the audit trail, newest first.
type DeedQuery struct {
	Firm   string // empty for all
	Home   string // empty for all
	Before int64  // id; 0 for the newest
	Most   int
}
