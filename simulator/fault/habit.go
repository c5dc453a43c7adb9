package fault

import (
	"time"

	"brinebell/detect"
)

// Habit is how a cause usually comes and goes.
type Habit struct {
	// Creeps is how long it may take to come to its full severity; 0 for what
	// happens at once.
	Creeps time.Duration
	// Least and Most are how long it lasts where it does not wait for a repair; 0
	// where it does.
	Least, Most time.Duration
	Why         string
}

const day = 24 * time.Hour

// habits is common practice throughout, no source: a technician's sense of how
// things break. Resin ages over years, of which a run can show the steepest
// weeks only.
var habits = map[detect.Cause]Habit{
	detect.FlapperLeak:     {Creeps: 7 * day, Why: "a flapper hardens and seats worse from week to week"},
	detect.DrippingFixture: {Creeps: 7 * day, Why: "a washer wears"},
	detect.SupplyLineLeak:  {Why: "a fitting lets go"},
	detect.FixtureLeftOpen: {Least: 2 * time.Hour, Most: 30 * time.Hour, Why: "somebody forgot it, and whoever comes home finds it"},
	detect.MeterJammed:     {Creeps: 14 * day, Why: "grit slows the wheel, then stops it"},
	detect.MeterCable:      {Why: "a plug with poor contact, or none"},
	detect.NoPower:         {Least: day, Most: 14 * day, Why: "a socket on a switched circuit, or the plug pulled, until somebody wonders"},
	detect.BypassLeftOpen:  {Why: "not closed all the way after a visit, or not at all"},
	detect.SaltEmpty:       {Why: "nobody carries bags"},
	detect.SaltBridge:      {Why: "a crust has closed at the liquid's edge"},
	detect.SaltMush:        {Creeps: 14 * day, Why: "fines settle with every dissolving"},
	detect.InjectorClogged: {Creeps: 14 * day, Why: "rust and sand gather in the nozzle"},
	detect.DrainRestricted: {Creeps: 14 * day, Why: "a kink, or grit in the flow control"},
	detect.BrineLineAir:    {Creeps: 7 * day, Why: "a compression nut works loose"},
	detect.FloatStuck:      {Why: "salt on the rod holds it"},
	detect.BrineValveLeak:  {Creeps: 7 * day, Why: "a grain holds the seat open and wears it"},
	detect.SealsWorn:       {Creeps: 7 * day, Why: "grit scores the piston's seals"},
	detect.DriveFailed:     {Why: "a gear strips: severity is the chance that a move fails"},
	detect.ClockWrong:      {Why: "an outage, or a hand"},
	detect.SettingHardness: {Why: "set for other water"},
	detect.SettingDose:     {Why: "set for another tank"},
	detect.SettingReserve:  {Why: "set to none"},
	detect.UseGrew:         {Creeps: 14 * day, Why: "people moved in, one after the other"},
	detect.ResinFouled:     {Creeps: 30 * day, Why: "rust and slime coat the beads"},
	detect.ResinSpent:      {Creeps: 30 * day, Why: "chlorine softens the beads until they break"},
	detect.BedClogged:      {Creeps: 30 * day, Why: "silt and broken beads fill the pores"},
	detect.SourceChanged:   {Why: "the works switched to another well"},
	detect.SensorFault:     {Why: "water in the housing"},
	detect.AwayFromHome:    {Least: 3 * day, Most: 20 * day, Why: "a holiday"},
}

// HabitOf is how a cause usually comes and goes.
func HabitOf(c detect.Cause) Habit { return habits[c] }
