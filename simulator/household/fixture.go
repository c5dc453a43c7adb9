package household

// Fixture is a place where water is used.
type Fixture uint8

// The fixtures. Other is cleaning, filling buckets, the kettle for the dog;
// Leak is water nobody wanted.
const (
	Toilet Fixture = iota
	Shower
	Faucet
	Washer
	Dishwasher
	Bath
	Other
	IceMaker
	Humidifier
	Irrigation
	Leak
	NumFixtures
)

var fixtureNames = [NumFixtures]string{"toilet", "shower", "faucet", "washer", "dishwasher", "bath", "other",
	"ice_maker", "humidifier", "irrigation", "leak"}

// String is the fixture's name as in the published tables.
func (f Fixture) String() string { return fixtureNames[f] }

// Use is one uninterrupted flow at one fixture.
type Use struct {
	Start, End int64   // Unix milliseconds, whole seconds
	Flow       float64 // L/min
	Fixture    Fixture
}

// Litres is the volume of the use.
func (u Use) Litres() float64 { return u.Flow * float64(u.End-u.Start) / 60000 }
