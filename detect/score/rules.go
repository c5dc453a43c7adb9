package score

import (
	"slices"
	"time"

	"brinebell/detect"
)

const (
	hour = time.Hour
	day  = 24 * time.Hour
)

// Rule is what may be expected of the detectors when a cause is at work.
type Rule struct {
	Cause detect.Cause
	// Finds are the kinds that say what is wrong.
	Finds []detect.Kind
	// Follows are the kinds that the cause brings about without being named.
	Follows []detect.Kind
	// Questions follow only while they ask (severity plan) and claim nothing.
	Questions []detect.Kind
	// Forecasts are those of Finds that may come before: they count when they still
	// stand at the onset and were raised no more than Ahead before it.
	Forecasts []detect.Kind
	Ahead     time.Duration
	Lead      time.Duration // before the onset: what already shows then is a consequence
	Grace     time.Duration // after the end, for Finds: what was gathered before may still be said
	Delay     time.Duration // after the onset: what comes later helps nobody
	Aftermath time.Duration // after the end, for consequences
	Least     time.Duration // a shorter episode is not asked for
	// Shows are the signals by which the cause can be seen: all of any one set,
	// rates and totals of a pipe being the same. Empty: any flow.
	Shows [][]detect.Signal
	Why   string
}

// The sets of signals by which causes show, named by pipes and the tank.
var (
	anyMain     = [][]detect.Signal{{detect.InletFlow}, {detect.ServiceFlow}}
	meterPair   = [][]detect.Signal{{detect.ServiceFlow, detect.InletFlow}, {detect.ServiceFlow, detect.DrainFlow}, {detect.ServiceFlow, detect.BrineLevel}}
	brineSide   = [][]detect.Signal{{detect.BrineLevel}}
	cycleSide   = [][]detect.Signal{{detect.BrineLevel}, {detect.DrainFlow}, {detect.ValvePower}}
	softness    = [][]detect.Signal{{detect.ColdHardness}, {detect.HotHardness}, {detect.SoftConductivity}}
	pressures   = []detect.Signal{detect.InletPressure, detect.OutletPressure}
	softOrCycle = [][]detect.Signal{{detect.ColdHardness}, {detect.HotHardness}, {detect.SoftConductivity}, {detect.BrineLevel}, {detect.DrainFlow}}
)

// Rules is the table. All of it is common practice, no source: what a
// technician would accept as having been told. Delays leave the time that the
// evidence needs: a leak a few nights, a fault of the regeneration two or three
// regenerations, an ageing bed weeks.
func Rules() []Rule {
	return []Rule{
		{Cause: detect.FlapperLeak, Finds: kinds(detect.NightLeak), Follows: kinds(detect.RegenerationFrequent, detect.SaltUseHigh, detect.SaltLow, detect.CapacityShort, detect.HardWater, detect.RegenerationMistimed),
			Grace: 2 * day, Delay: 14 * day, Aftermath: 14 * day, Shows: anyMain,
			Why: "a cistern that refills all night uses up capacity and salt"},
		{Cause: detect.DrippingFixture, Finds: kinds(detect.NightLeak), Follows: kinds(detect.RegenerationFrequent, detect.SaltUseHigh),
			Grace: 2 * day, Delay: 21 * day, Aftermath: 14 * day, Shows: anyMain,
			Why: "too little to do more than shorten the interval"},
		{Cause: detect.SupplyLineLeak, Finds: kinds(detect.NightLeak, detect.Burst, detect.FloorWetKind), Follows: kinds(detect.RegenerationFrequent, detect.SaltUseHigh, detect.SaltLow, detect.CapacityShort, detect.HardWater, detect.RegenerationMistimed),
			Grace: 2 * day, Delay: 7 * day, Aftermath: 14 * day, Shows: anyMain,
			Why: "runs steadily, from a weep to a burst"},
		{Cause: detect.FixtureLeftOpen, Finds: kinds(detect.Burst, detect.NightLeak), Follows: kinds(detect.RegenerationFrequent, detect.SaltUseHigh, detect.CapacityShort, detect.HardWater, detect.FloorWetKind, detect.RegenerationMistimed),
			Grace: 12 * hour, Delay: 2 * day, Aftermath: 7 * day, Shows: anyMain,
			Why: "once it is closed there is nothing left to tell"},
		{Cause: detect.MeterJammed, Finds: kinds(detect.MeterDead, detect.MeterSlow), Follows: kinds(detect.RegenerationMissed, detect.HardWater, detect.CapacityShort, detect.SaltUseLow, detect.Stagnant, detect.BypassOpen, detect.SensorStuck),
			Grace: 2 * day, Delay: 14 * day, Aftermath: 14 * day, Shows: meterPair,
			Why: "jammed in part it reads low, jammed fast it stands; a metered valve then waits too long. Against the house meter it looks like a bypass"},
		{Cause: detect.MeterCable, Finds: kinds(detect.MeterDead, detect.MeterSlow, detect.SensorStuck, detect.SensorSilent), Follows: kinds(detect.RegenerationMissed, detect.HardWater, detect.CapacityShort, detect.SaltUseLow, detect.Stagnant, detect.BypassOpen),
			Grace: 2 * day, Delay: 14 * day, Aftermath: 14 * day, Shows: meterPair,
			Why: "contact now and then reads low, none reads nothing"},
		{Cause: detect.NoPower, Finds: kinds(detect.PowerLost, detect.RegenerationMissed, detect.RegenerationStuck), Follows: kinds(detect.RegenerationMistimed, detect.HardWater, detect.CapacityShort, detect.SaltUseLow, detect.DrainRunning, detect.SensorSilent, detect.FloorWetKind),
			Grace: 2 * day, Delay: 21 * day, Aftermath: 14 * day, Shows: cycleSide,
			Why: "without a power sensor it shows only when a regeneration is due; afterwards the clock is wrong"},
		{Cause: detect.BypassLeftOpen, Finds: kinds(detect.BypassOpen, detect.HardWater, detect.MeterSlow, detect.MeterDead), Follows: kinds(detect.RegenerationMissed, detect.SaltUseLow, detect.Stagnant, detect.CapacityShort),
			Grace: 2 * day, Delay: 14 * day, Aftermath: 14 * day,
			Shows: append([][]detect.Signal{{detect.InletFlow, detect.ServiceFlow}}, softness...),
			Why:   "water goes round: the softener's meter rightly shows little or nothing"},
		{Cause: detect.SaltEmpty, Finds: kinds(detect.SaltLow, detect.SaltDrawLow), Follows: kinds(detect.HardWater, detect.CapacityShort, detect.SaltUseLow, detect.SaltBridgeKind, detect.BrineHigh, detect.SaltDrawHigh),
			Forecasts: kinds(detect.SaltLow), Ahead: 60 * day, Lead: 10 * day,
			Grace: 2 * day, Delay: 60 * day, Aftermath: 14 * day, Shows: append([][]detect.Signal{{detect.SaltLevel}}, brineSide...),
			Why: "begins with the last grain: told weeks before, it is told best, and the brine is weak a regeneration earlier. Salt poured into an empty tank displaces brine, which the next draw takes"},
		{Cause: detect.SaltBridge, Finds: kinds(detect.SaltBridgeKind, detect.SaltDrawLow), Follows: regenerationFails(detect.BrineHigh),
			Grace: 3 * day, Delay: 30 * day, Aftermath: 14 * day, Shows: append([][]detect.Signal{{detect.SaltLevel}}, brineSide...),
			Why: "brine under a crust is weak or little; the salt stands"},
		{Cause: detect.SaltMush, Finds: kinds(detect.SaltDrawLow, detect.SaltBridgeKind, detect.BrineHigh), Follows: regenerationFails(),
			Grace: 3 * day, Delay: 30 * day, Aftermath: 14 * day, Shows: brineSide,
			Why: "sludge lets little brine to the well; what to do is the same as for a bridge"},
		{Cause: detect.InjectorClogged, Finds: kinds(detect.SaltDrawLow, detect.BrineHigh), Follows: regenerationFails(detect.RinseShort, detect.RegenerationStuck, detect.RegenerationMissed, detect.SaltDrawHigh),
			Grace: 3 * day, Delay: 30 * day, Aftermath: 14 * day, Shows: brineSide,
			Why: "what is not drawn stays in the tank, and is drawn at once when it is mended; a cycle in which nothing moves is none to whoever watches"},
		{Cause: detect.DrainRestricted, Finds: kinds(detect.SaltDrawLow, detect.BrineHigh, detect.RinseShort),
			Follows: regenerationFails(detect.FloorWetKind, detect.RegenerationStuck, detect.RegenerationMissed, detect.SaltDrawHigh, detect.PressureLoss, detect.DrainRunning),
			Grace:   3 * day, Delay: 30 * day, Aftermath: 14 * day, Shows: [][]detect.Signal{{detect.BrineLevel}, {detect.DrainFlow}},
			Why: "back-pressure takes the suction away and slows the rinse; a weak backwash leaves silt in the bed, which then resists; a rinse of a trickle is a drain that runs. What was not drawn is drawn at once when it is mended"},
		{Cause: detect.BrineLineAir, Finds: kinds(detect.SaltDrawLow, detect.BrineHigh), Follows: regenerationFails(detect.RinseShort, detect.SaltDrawHigh),
			Grace: 3 * day, Delay: 30 * day, Aftermath: 14 * day, Shows: brineSide,
			Why: "air is drawn instead of brine; what stays is drawn at once when it is mended"},
		{Cause: detect.FloatStuck, Finds: kinds(detect.BrineHigh, detect.SaltDrawHigh, detect.SaltDrawLow, detect.FloorWetKind), Follows: regenerationFails(detect.SaltUseHigh, detect.RinseShort, detect.SaltLow),
			Grace: 3 * day, Delay: 30 * day, Aftermath: 14 * day, Shows: brineSide,
			Why: "stuck low it shortens the refill, stuck high it overfills"},
		{Cause: detect.BrineValveLeak, Finds: kinds(detect.BrineHigh, detect.SaltDrawHigh, detect.FloorWetKind), Follows: kinds(detect.SaltUseHigh, detect.SaltLow, detect.RinseShort, detect.NightLeak, detect.CapacityShort),
			Grace: 3 * day, Delay: 30 * day, Aftermath: 14 * day, Shows: brineSide,
			Why: "water seeps into the tank, past the house meter, day and night"},
		{Cause: detect.SealsWorn, Finds: kinds(detect.DrainRunning), Follows: kinds(detect.NightLeak, detect.RegenerationFrequent, detect.CapacityShort, detect.HardWater, detect.SaltUseHigh, detect.SaltDrawLow, detect.SaltDrawHigh, detect.SaltLow, detect.BrineHigh, detect.RinseShort, detect.RegenerationStuck),
			Grace: 2 * day, Delay: 14 * day, Aftermath: 14 * day, Shows: [][]detect.Signal{{detect.DrainFlow}},
			Why: "water past the seals runs to the drain, through the house meter, and weakens suction; where it begins with a regeneration, that one does not end"},
		{Cause: detect.DriveFailed, Finds: kinds(detect.RegenerationStuck, detect.RegenerationMissed, detect.DrainRunning), Follows: regenerationFails(detect.BrineHigh, detect.NightLeak, detect.SaltDrawLow, detect.SaltDrawHigh, detect.SaltUseHigh, detect.RinseShort, detect.RegenerationFrequent, detect.RegenerationMistimed, detect.FloorWetKind),
			Grace: 3 * day, Delay: 30 * day, Aftermath: 14 * day, Shows: cycleSide,
			Why: "stops in a position or never leaves it"},
		{Cause: detect.ClockWrong, Finds: kinds(detect.RegenerationMistimed), Follows: kinds(detect.RegenerationMissed, detect.CapacityShort, detect.HardWater),
			Grace: 3 * day, Delay: 30 * day, Aftermath: 14 * day, Shows: cycleSide,
			Why: "shows at the next two regenerations"},
		{Cause: detect.SettingHardness, Finds: kinds(detect.CapacityShort, detect.HardWater, detect.RegenerationFrequent, detect.RegenerationMissed, detect.SaltUseHigh, detect.SaltUseLow), Follows: kinds(detect.SaltLow),
			Grace: 3 * day, Delay: 45 * day, Aftermath: 14 * day, Shows: softOrCycle,
			Why: "set too low it runs out, too high it regenerates too often"},
		{Cause: detect.SettingDose, Finds: kinds(detect.SaltDrawLow, detect.SaltDrawHigh, detect.SaltUseHigh, detect.SaltUseLow), Follows: kinds(detect.HardWater, detect.CapacityShort, detect.BrineHigh, detect.SaltLow, detect.RinseShort),
			Grace: 3 * day, Delay: 30 * day, Aftermath: 14 * day, Shows: brineSide,
			Why: "the refill and the next draw change together"},
		{Cause: detect.SettingReserve, Finds: kinds(detect.CapacityShort, detect.HardWater, detect.RegenerationFrequent, detect.RegenerationMissed), Follows: kinds(detect.SaltUseHigh, detect.SaltUseLow, detect.SaltLow),
			Grace: 3 * day, Delay: 45 * day, Aftermath: 14 * day, Shows: softOrCycle,
			Why: "without a reserve the last day is hard, and each regeneration comes later than the profile's reserve has it"},
		{Cause: detect.UseGrew, Finds: kinds(detect.SaltUseHigh, detect.RegenerationFrequent, detect.CapacityShort), Follows: kinds(detect.HardWater, detect.SaltLow, detect.RegenerationMistimed),
			Grace: 3 * day, Delay: 45 * day, Aftermath: 14 * day, Shows: softOrCycle,
			Why: "nothing is broken; salt and intervals follow the water"},
		{Cause: detect.ResinFouled, Finds: kinds(detect.CapacityShort, detect.HardWater), Follows: kinds(detect.PressureLoss, detect.SaltUseHigh, detect.RegenerationFrequent),
			Grace: 3 * day, Delay: 45 * day, Aftermath: 14 * day, Shows: softness,
			Why: "shows only in the water's hardness"},
		{Cause: detect.ResinSpent, Finds: kinds(detect.CapacityShort, detect.HardWater, detect.PressureLoss), Follows: kinds(detect.SaltUseHigh, detect.RegenerationFrequent),
			Grace: 3 * day, Delay: 45 * day, Aftermath: 14 * day, Shows: append(slices.Clone(softness), pressures),
			Why: "beads that break lie closer and resist before capacity is missed: pressure_loss says silt or broken resin; else it shows only in the water's hardness"},
		{Cause: detect.BedClogged, Finds: kinds(detect.PressureLoss), Follows: kinds(detect.HardWater, detect.CapacityShort, detect.SaltDrawLow, detect.RinseShort),
			Grace: 3 * day, Delay: 45 * day, Aftermath: 14 * day, Shows: [][]detect.Signal{{detect.InletPressure, detect.OutletPressure}, {detect.OutletPressure}},
			Why: "pressure falls across the bed when much is drawn"},
		{Cause: detect.SourceChanged, Finds: kinds(detect.HardWater, detect.CapacityShort), Follows: kinds(detect.SaltUseHigh, detect.SaltUseLow, detect.RegenerationFrequent, detect.RegenerationMissed),
			Grace: 3 * day, Delay: 45 * day, Aftermath: 14 * day, Shows: append([][]detect.Signal{{detect.RawHardness}}, softness...),
			Why: "the bed runs out before the valve knows: by the water's hardness a regeneration was due"},
		{Cause: detect.SensorFault, Finds: kinds(detect.SensorSilent, detect.SensorStuck, detect.SensorImplausible, detect.SensorClock), Follows: kinds(detect.MeterDead, detect.MeterSlow, detect.SaltDrawLow, detect.SaltDrawHigh, detect.SaltUseHigh, detect.SaltUseLow, detect.BrineHigh, detect.RegenerationMissed, detect.RegenerationMistimed, detect.Stagnant, detect.BypassOpen, detect.PowerLost),
			Grace: 2 * day, Delay: 7 * day, Aftermath: 7 * day,
			Why: "what is judged from a wrong sensor may be wrong, but nobody must be woken for it: leaks and running drains are false alarms"},
		{Cause: detect.AwayFromHome, Finds: kinds(detect.Stagnant), Follows: kinds(detect.SaltUseLow, detect.RegenerationMissed), Questions: kinds(detect.MeterDead, detect.SensorStuck),
			Grace: day, Delay: 30 * day, Aftermath: 14 * day, Least: 7 * day, Shows: anyMain,
			Why: "no fault; water that stood for a week is flushed. That the meter is dead may be asked, not claimed"},
	}
}

func kinds(k ...detect.Kind) []detect.Kind { return k }

// regenerationFails are the consequences of a regeneration that restores too
// little, and more.
func regenerationFails(more ...detect.Kind) []detect.Kind {
	return append(kinds(detect.HardWater, detect.CapacityShort, detect.SaltUseLow), more...)
}
