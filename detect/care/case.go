package care

import (
	"time"

	"brinebell/detect"
)

// Stage says where a case stands.
type Stage string

// The stages.
const (
	Open             Stage = "open"              // nobody has it yet
	Taken            Stage = "taken"             // somebody has seen it and has it
	WaitingHousehold Stage = "waiting_household" // the household is to do or answer something
	WaitingFirm      Stage = "waiting_firm"      // a visit or an answer of the firm is due
	Watched          Stage = "watched"           // repaired, or gone by itself; the engine checks that it stays so
	Closed           Stage = "closed"
)

// Stages lists them all, in the order in which a case goes through them.
func Stages() []Stage {
	return []Stage{Open, Taken, WaitingHousehold, WaitingFirm, Watched, Closed}
}

// Act is a kind of step.
type Act string

// The acts. Raised, Updated, Cleared, Held and Joined are the engine's, Reopened
// is the engine's and people's; the rest are people's.
const (
	Raised      Act = "raised"       // an alert joined the case
	Updated     Act = "updated"      // its severity or its first cause changed
	Cleared     Act = "cleared"      // an alert's evidence is gone
	Held        Act = "held"         // the watch after a repair ended well
	Joined      Act = "joined"       // its alerts went to another case, which Text names
	Reopened    Act = "reopened"     // what was repaired came back, or somebody says so
	Acknowledge Act = "acknowledged" // a person has it
	AskHouse    Act = "ask_household"
	AskFirm     Act = "ask_firm"
	Repair      Act = "repaired" // with the cause that was confirmed
	Note        Act = "note"
	Answer      Act = "answered" // to the question of an alert
	NotTrue     Act = "not_true" // nothing was wrong: a false alarm, kept as feedback
	Close       Act = "closed"
)

// Step is one thing that happened to a case. Steps are only ever added.
type Step struct {
	Seq   int64 // its number in the store; 0 before it is there
	At    time.Time
	By    string // a person's id; empty for the engine
	Act   Act
	Alert string       // the id of the alert it is about, or empty
	Cause detect.Cause // of Repair: what was found to be the cause; of Updated: the one now first
	Text  string       // of Note, Answer, AskHouse and AskFirm: what was said
	Due   time.Time    // of Acknowledge and AskFirm: when somebody means to see to it; may be zero
}

// Case is all that is wrong at one home for one reason.
type Case struct {
	ID     string // of the alert that opened it
	Home   string
	Stage  Stage
	Lead   string    // the id of the alert nearest to the root cause
	Alerts []string  // ids, in the order in which they joined
	Holder string    // the person who has it, or empty
	Due    time.Time // when somebody means to have seen to it; zero if unsaid
	Into   string    // the case that its alerts went to, or empty
	Steps  []Step
}

// Last is the newest step; a case always has one.
func (c Case) Last() Step { return c.Steps[len(c.Steps)-1] }
