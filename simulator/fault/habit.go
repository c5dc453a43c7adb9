package fault

import (
	"time"

	"brinebell/detect"
)

// Habit is how a cause usually comes: from the least severity that somebody who
// knows softeners would call a fault to the worst, and in what time. Severity 1
// is the worst that the part of the simulation it acts in can do.
type Habit struct {
	Least, Worst float64
	Ramp         time.Duration // 0: at once
	Why          string
}

const day = 24 * time.Hour

// habits is common practice throughout, no source: a technician's sense of how
// things break. Resin ages over years, of which a run can show the steepest
// weeks only.
var habits = map[detect.Cause]Habit{
	detect.FlapperLeak:     {0.05, 1, 10 * day, "a flapper hardens and seats worse from week to week"},
	detect.DrippingFixture: {0.05, 1, 14 * day, "a washer wears"},
	detect.SupplyLineLeak:  {0.1, 1, 2 * day, "a fitting weeps, then runs"},
	detect.FixtureLeftOpen: {0.2, 1, 0, "somebody forgot it"},
	detect.MeterJammed:     {0.2, 1, 3 * day, "grit slows the wheel, then stops it"},
	detect.MeterCable:      {0.3, 1, 0, "a plug with poor contact, or none"},
	detect.NoPower:         {0.3, 1, 0, "a socket on a switched circuit, or the plug pulled"},
	detect.BypassLeftOpen:  {0.15, 1, 0, "not closed all the way after a visit, or not at all"},
	detect.SaltEmpty:       {1, 1, 0, "nobody carries bags"},
	detect.SaltBridge:      {0.6, 1, 10 * day, "a crust grows at the liquid's edge"},
	detect.SaltMush:        {0.4, 1, 21 * day, "fines settle with every dissolving"},
	detect.InjectorClogged: {0.4, 1, 14 * day, "rust and sand gather in the nozzle"},
	detect.DrainRestricted: {0.3, 1, 7 * day, "a kink, or grit in the flow control"},
	detect.BrineLineAir:    {0.4, 1, 3 * day, "a compression nut works loose"},
	detect.FloatStuck:      {0.4, 1, 2 * day, "salt creeps up the rod"},
	detect.BrineValveLeak:  {0.15, 1, 5 * day, "a grain holds the seat open and wears it"},
	detect.SealsWorn:       {0.2, 1, 30 * day, "grit scores the piston's seals"},
	detect.DriveFailed:     {0.3, 1, 0, "a gear strips: severity is the chance that a move fails"},
	detect.ClockWrong:      {0.15, 1, 0, "an outage, or a hand"},
	detect.SettingHardness: {0.3, 1, 0, "set for other water"},
	detect.SettingDose:     {0.3, 1, 0, "set for another tank"},
	detect.SettingReserve:  {0.5, 1, 0, "set to none"},
	detect.UseGrew:         {0.2, 1, 0, "people moved in"},
	detect.ResinFouled:     {0.3, 1, 45 * day, "rust and slime coat the beads"},
	detect.ResinSpent:      {0.3, 1, 45 * day, "chlorine softens the beads until they break"},
	detect.BedClogged:      {0.3, 1, 30 * day, "silt and broken beads fill the pores"},
	detect.SourceChanged:   {0.2, 1, 0, "the works switched to another well"},
	detect.SensorFault:     {0.3, 1, 0, "water in the housing"},
	detect.AwayFromHome:    {1, 1, 0, "a holiday"},
}

// HabitOf is how a cause usually comes.
func HabitOf(c detect.Cause) Habit { return habits[c] }

// Severity is the severity at the share u, 0 to 1, of the habit's range.
func (h Habit) Severity(u float64) float64 { return h.Least + u*(h.Worst-h.Least) }
