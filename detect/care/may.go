package care

import "slices"

// Action is something that a person may or may not do, at a home or in a firm.
type Action string

// The actions at a home.
const (
	SeeProfile   Action = "see_profile"    // its name, place and settings, and how its sensors are
	SeeLife      Action = "see_life"       // readings, books, regenerations, alerts and cases: when people are up, bathe, are away
	TellAway     Action = "tell_away"      // days on which nobody is at home, and the units of the screen
	Report       Action = "report"         // symptoms, measured hardness, answers to an alert's question, notes
	Take         Action = "take"           // have a case, ask the other side for something
	Settle       Action = "settle"         // repaired, not true, closed, reopened
	SetUpHome    Action = "set_up_home"    // its profile
	SetUpDevices Action = "set_up_devices" // what publishes for it
	CheckSensor  Action = "check_sensor"   // watch its signals for a moment while somebody opens a tap
	ExportHome   Action = "export_home"    // all its data, to take away
	RemoveHome   Action = "remove_home"    // and erase its data
)

// The actions in a firm and beyond.
const (
	SeePeople    Action = "see_people"
	SetUpPeople  Action = "set_up_people" // add, change and disable people of the firm, all but operators
	SeeAudit     Action = "see_audit"     // who did what in the firm
	SetUpFirms   Action = "set_up_firms"  // firms, and operators
	SeeService   Action = "see_service"   // how the installation is: what could not be used, and why
	OwnTokens    Action = "own_tokens"    // of the API, for oneself
	MoveHome     Action = "move_home"     // from one firm to another
	SeeOwnPerson Action = "see_own_person"
)

// Reach is where a role may do something.
type Reach uint8

// The reaches.
const (
	Nowhere  Reach = iota
	Own            // at a household's own homes; in the own firm and at its homes; for oneself
	Anywhere       // in every firm and at every home
)

// permission is one row of the table.
type permission struct {
	action                                   Action
	household, technician, manager, operator Reach
}

// permissions is who may do what, and where. What is not in it nobody may do.
//
// An operator runs the installation and has no business with the life of a
// home: sees no reading and no alert, and can still set homes up, export and
// erase them, which the household or the law may ask of whoever runs it.
var permissions = [...]permission{
	// action      household technician manager  operator
	{SeeProfile, Own, Own, Own, Anywhere},
	{SeeLife, Own, Own, Own, Nowhere},
	{TellAway, Own, Own, Own, Nowhere},
	{Report, Own, Own, Own, Nowhere},
	{Take, Own, Own, Own, Nowhere},
	{Settle, Nowhere, Own, Own, Nowhere},
	{CheckSensor, Own, Own, Own, Anywhere},
	{SetUpHome, Nowhere, Own, Own, Anywhere},
	{SetUpDevices, Nowhere, Own, Own, Anywhere},
	{ExportHome, Own, Nowhere, Own, Anywhere},
	{RemoveHome, Nowhere, Nowhere, Own, Anywhere},
	{MoveHome, Nowhere, Nowhere, Nowhere, Anywhere},

	{SeePeople, Nowhere, Own, Own, Anywhere},
	{SetUpPeople, Nowhere, Nowhere, Own, Anywhere},
	{SeeAudit, Nowhere, Nowhere, Own, Anywhere},
	{SetUpFirms, Nowhere, Nowhere, Nowhere, Anywhere},
	{SeeService, Nowhere, Nowhere, Nowhere, Anywhere},
	{OwnTokens, Own, Own, Own, Own},
	{SeeOwnPerson, Own, Own, Own, Own},
}

// Actions lists them all.
func Actions() []Action {
	all := make([]Action, len(permissions))
	for i, p := range permissions {
		all[i] = p.action
	}
	return all
}

// Reach is where a role may do something; Nowhere for what is not known.
func (r Role) Reach(a Action) Reach {
	for _, p := range permissions {
		if p.action != a {
			continue
		}
		switch r {
		case Household:
			return p.household
		case Technician:
			return p.technician
		case Manager:
			return p.manager
		case Operator:
			return p.operator
		}
	}
	return Nowhere
}

// Place is a home with the firm that looks after it, or a firm alone.
type Place struct {
	Home string // empty for a firm
	Firm string // empty for the installation, and of a home that nobody has yet
	Area string // of the firm's rounds; may be empty
}

// May says whether a person may do something at a place. A disabled person may
// do nothing.
func (p Person) May(a Action, at Place) bool {
	if p.Disabled {
		return false
	}
	switch p.Role.Reach(a) {
	case Anywhere:
		return true
	case Own:
		return p.owns(at)
	}
	return false
}

// owns says whether a place is a person's own.
func (p Person) owns(at Place) bool {
	switch {
	case p.Firm != at.Firm, p.Firm == "" && p.Role != Operator:
		return false // a home that no firm looks after yet is nobody's
	case p.Role == Household && at.Home != "":
		return slices.Contains(p.Homes, at.Home)
	}
	return true
}

// Knows says whether a person may know that a home exists. To anyone else it
// must look exactly like one that does not.
func (p Person) Knows(at Place) bool { return p.May(SeeProfile, at) }

// Changes says whether an action changes anything, so that it needs more than
// the right to read.
func (a Action) Changes() bool {
	switch a {
	case SeeProfile, SeeLife, ExportHome, CheckSensor, SeePeople, SeeAudit, SeeService, SeeOwnPerson:
		return false
	}
	return true
}
