package care

import (
	"time"

	"brinebell/detect"
)

// Role says what a person is to the homes.
type Role string

// The roles. A household sees its own homes. A technician sees the homes of the
// firm and works on them. A manager also sets up the firm's homes and people. An
// operator runs the installation: firms, people, devices, and no home's life
// beyond what setting up needs.
const (
	Household  Role = "household"
	Technician Role = "technician"
	Manager    Role = "manager"
	Operator   Role = "operator"
)

// Roles lists them all.
func Roles() []Role { return []Role{Household, Technician, Manager, Operator} }

// Firm is who looks after homes; every person but an operator belongs to one,
// every home to exactly one. A household without a service firm is a firm of
// its own.
type Firm struct {
	ID   string // [a-z0-9-], unique
	Name string
}

// Person is somebody who can sign in and be told.
type Person struct {
	ID       string // opaque, unique
	Firm     string // empty for operators
	Role     Role
	Name     string
	Email    string       // unique; where one-time links go
	Homes    []string     // of a household; others see every home of their firm
	Units    detect.Units // for the screen; empty follows the home
	Language string       // BCP 47; empty for the default
	Timezone string       // IANA; empty follows the home told of
	Channels []Channel    // where they are told, besides the pages
	Disabled bool
}

// ChannelKind names a way to tell somebody.
type ChannelKind string

// The ways.
const (
	Mail    ChannelKind = "mail"    // target: an address
	Gateway ChannelKind = "gateway" // target: the URL of a chat, push or SMS service
	Webhook ChannelKind = "webhook" // target: an https URL that takes CloudEvents
)

// Channel is one way in which a person wants to be told.
type Channel struct {
	Kind   ChannelKind
	Target string
	Secret string // of a webhook: the key of its signature; never shown again
	// From and To are the hours of the day in which anything but act_now may
	// come, in the local time of the home; From after To spans midnight, both
	// zero means the waking hours of the home.
	From, To time.Duration
	// Least is the least pressing severity that is told here; empty tells all.
	Least detect.Severity
	// Digest gathers what is not act_now into one message a day at From.
	Digest bool
}
