package detect

// Kind names what a detector can conclude.
type Kind string

// The kinds of findings.
const (
	NightLeak            Kind = "night_leak"
	Burst                Kind = "burst"
	MeterDead            Kind = "meter_dead"
	MeterSlow            Kind = "meter_slow"
	SaltDrawLow          Kind = "salt_draw_low"
	SaltDrawHigh         Kind = "salt_draw_high"
	SaltUseHigh          Kind = "salt_use_high"
	SaltUseLow           Kind = "salt_use_low"
	SaltLow              Kind = "salt_low"
	SaltBridgeKind       Kind = "salt_bridge"
	BrineHigh            Kind = "brine_high"
	DrainRunning         Kind = "drain_running"
	RegenerationStuck    Kind = "regeneration_stuck"
	RegenerationMissed   Kind = "regeneration_missed"
	RegenerationFrequent Kind = "regeneration_frequent"
	RegenerationMistimed Kind = "regeneration_mistimed"
	RinseShort           Kind = "rinse_short"
	BypassOpen           Kind = "bypass_open"
	HardWater            Kind = "hard_water"
	CapacityShort        Kind = "capacity_short"
	PressureLoss         Kind = "pressure_loss"
	PowerLost            Kind = "power_lost"
	Stagnant             Kind = "stagnant"
	SensorSilent         Kind = "sensor_silent"
	SensorStuck          Kind = "sensor_stuck"
	SensorImplausible    Kind = "sensor_implausible"
	SensorClock          Kind = "sensor_clock"
	FloorWetKind         Kind = "floor_wet"
	Unusual              Kind = "unusual"
)

// Kinds lists every kind, in the order of the design's table.
func Kinds() []Kind {
	return []Kind{NightLeak, Burst, MeterDead, MeterSlow, SaltDrawLow, SaltDrawHigh, SaltUseHigh, SaltUseLow,
		SaltLow, SaltBridgeKind, BrineHigh, DrainRunning, RegenerationStuck, RegenerationMissed,
		RegenerationFrequent, RegenerationMistimed, RinseShort, BypassOpen, HardWater, CapacityShort,
		PressureLoss, PowerLost, Stagnant, SensorSilent, SensorStuck, SensorImplausible, SensorClock,
		FloorWetKind, Unusual}
}

// Severity says how long a finding can wait.
type Severity string

// The severities, most pressing first.
const (
	ActNow   Severity = "act_now"   // water or damage runs while you read
	ThisWeek Severity = "this_week" // costs water, salt or soft water every day
	Plan     Severity = "plan"      // to be done at the next occasion
)

// Rank orders severities: 0 is the most pressing.
func (s Severity) Rank() int {
	switch s {
	case ActNow:
		return 0
	case ThisWeek:
		return 1
	}
	return 2
}

// Cause names what can be wrong, or what explains a finding without a fault.
type Cause string

// The causes.
const (
	FlapperLeak     Cause = "flapper_leak"
	DrippingFixture Cause = "dripping_fixture"
	SupplyLineLeak  Cause = "supply_line_leak"
	FixtureLeftOpen Cause = "fixture_left_open"
	MeterJammed     Cause = "meter_jammed"
	MeterCable      Cause = "meter_cable"
	NoPower         Cause = "no_power"
	BypassLeftOpen  Cause = "bypass_left_open"
	SaltEmpty       Cause = "salt_empty"
	SaltBridge      Cause = "salt_bridge"
	SaltMush        Cause = "salt_mush"
	InjectorClogged Cause = "injector_clogged"
	DrainRestricted Cause = "drain_restricted"
	BrineLineAir    Cause = "brine_line_air"
	FloatStuck      Cause = "float_stuck"
	BrineValveLeak  Cause = "brine_valve_leak"
	SealsWorn       Cause = "seals_worn"
	DriveFailed     Cause = "drive_failed"
	ClockWrong      Cause = "clock_wrong"
	SettingHardness Cause = "setting_hardness"
	SettingDose     Cause = "setting_dose"
	SettingReserve  Cause = "setting_reserve"
	UseGrew         Cause = "use_grew"
	ResinFouled     Cause = "resin_fouled"
	ResinSpent      Cause = "resin_spent"
	BedClogged      Cause = "bed_clogged"
	SourceChanged   Cause = "source_changed"
	SensorFault     Cause = "sensor_fault"
	AwayFromHome    Cause = "away_from_home"
)

// Causes lists every cause, in the order of the design's table.
func Causes() []Cause {
	return []Cause{FlapperLeak, DrippingFixture, SupplyLineLeak, FixtureLeftOpen, MeterJammed, MeterCable,
		NoPower, BypassLeftOpen, SaltEmpty, SaltBridge, SaltMush, InjectorClogged, DrainRestricted,
		BrineLineAir, FloatStuck, BrineValveLeak, SealsWorn, DriveFailed, ClockWrong, SettingHardness,
		SettingDose, SettingReserve, UseGrew, ResinFouled, ResinSpent, BedClogged, SourceChanged,
		SensorFault, AwayFromHome}
}
