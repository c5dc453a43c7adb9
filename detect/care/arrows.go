package care

import "brinebell/detect"

// arrow says that one finding brings another about.
type arrow struct {
	root, effect detect.Kind
	why          string
}

// arrows is what brings what about; common practice, no source, unless a reason
// says otherwise. It has no circles, so a case always has a root. It is sparing:
// a finding is an effect only where somebody who mends the root need not come
// for the effect. Salt that runs low is therefore no effect of a leak, though it
// comes sooner: it has to be carried all the same.
var arrows = [...]arrow{
	{detect.NightLeak, detect.SaltUseHigh, "the leak's water is softened too, and costs its salt"},
	{detect.NightLeak, detect.RegenerationFrequent, "the leak uses capacity up"},
	{detect.NightLeak, detect.CapacityShort, "the leak eats the reserve"},
	{detect.Burst, detect.NightLeak, "what runs on runs at night too"},
	{detect.Burst, detect.FloorWetKind, "what escapes lands on the floor"},
	{detect.Burst, detect.RegenerationFrequent, "it uses capacity up"},
	{detect.Burst, detect.SaltUseHigh, "its water is softened too"},
	{detect.Burst, detect.CapacityShort, "it eats the reserve"},
	{detect.NightLeak, detect.FloorWetKind, "what escapes lands on the floor"},
	{detect.DrainRunning, detect.NightLeak, "what goes down the drain passes the house's meter"},
	{detect.DrainRunning, detect.Burst, "a valve between positions runs at the backwash's rate"},
	{detect.DrainRunning, detect.RegenerationFrequent, "it passes the softener's meter, or its seals waste capacity"},
	{detect.DrainRunning, detect.SaltUseHigh, "ports that leak to the drain can draw from the tank"},
	{detect.DrainRunning, detect.HardWater, "the seals that let water to the drain let it past the resin"},
	{detect.RegenerationStuck, detect.DrainRunning, "it goes on rinsing"},
	{detect.RegenerationStuck, detect.Burst, "it goes on at the backwash's rate"},
	{detect.RegenerationStuck, detect.NightLeak, "it goes on through the night"},
	{detect.RegenerationStuck, detect.BrineHigh, "a refill that does not end"},
	{detect.RegenerationStuck, detect.RinseShort, "it stops before the rinse"},
	{detect.RegenerationStuck, detect.HardWater, "the valve is not back in service"},
	{detect.RegenerationStuck, detect.RegenerationMissed, "the next one cannot begin"},
	{detect.PowerLost, detect.RegenerationStuck, "the motor stops in mid-cycle"},
	{detect.PowerLost, detect.RegenerationMissed, "nothing begins a cycle"},
	{detect.PowerLost, detect.RegenerationMistimed, "the clock stood still meanwhile"},
	{detect.PowerLost, detect.RinseShort, "the cycle stops before the rinse"},
	{detect.PowerLost, detect.DrainRunning, "the piston stays in mid-cycle"},
	{detect.PowerLost, detect.HardWater, "no regeneration"},
	{detect.PowerLost, detect.SaltUseLow, "no regeneration"},
	{detect.PowerLost, detect.MeterDead, "the softener's own pick-up is fed by it"},
	{detect.PowerLost, detect.SensorSilent, "a sensor in the same outlet"},
	{detect.BypassOpen, detect.HardWater, "water goes round the resin"},
	{detect.BypassOpen, detect.MeterDead, "no water passes the softener's meter"},
	{detect.BypassOpen, detect.MeterSlow, "part of the water goes round the meter"},
	{detect.BypassOpen, detect.RegenerationMissed, "nothing is counted that would call for one"},
	{detect.BypassOpen, detect.SaltUseLow, "nothing is softened"},
	{detect.BypassOpen, detect.Stagnant, "no water moves in the softener"},
	{detect.MeterDead, detect.MeterSlow, "it counted too little before it counted nothing"},
	{detect.MeterDead, detect.RegenerationMissed, "nothing is counted that would call for one"},
	{detect.MeterDead, detect.HardWater, "no regeneration"},
	{detect.MeterDead, detect.CapacityShort, "regenerated too late"},
	{detect.MeterDead, detect.SaltUseLow, "no regeneration"},
	{detect.MeterSlow, detect.RegenerationMissed, "too little is counted"},
	{detect.MeterSlow, detect.HardWater, "regenerated too late"},
	{detect.MeterSlow, detect.CapacityShort, "regenerated too late"},
	{detect.MeterSlow, detect.SaltUseLow, "regenerated too seldom"},
	{detect.RegenerationMissed, detect.HardWater, "the bed is used up"},
	{detect.RegenerationMissed, detect.CapacityShort, "the bed is used up"},
	{detect.RegenerationMissed, detect.SaltUseLow, "no salt is drawn"},
	{detect.RegenerationFrequent, detect.SaltUseHigh, "each takes its dose"},
	{detect.SaltLow, detect.SaltDrawLow, "little is left to dissolve"},
	{detect.SaltLow, detect.SaltBridgeKind, "the brine is weak alike where no salt is left"},
	{detect.SaltLow, detect.HardWater, "nothing restores the bed"},
	{detect.SaltLow, detect.CapacityShort, "the bed is restored in part"},
	{detect.SaltLow, detect.SaltUseLow, "little is left to use"},
	{detect.SaltBridgeKind, detect.SaltDrawLow, "the brine below the crust is weak"},
	{detect.SaltBridgeKind, detect.HardWater, "nothing restores the bed"},
	{detect.SaltBridgeKind, detect.CapacityShort, "the bed is restored in part"},
	{detect.SaltBridgeKind, detect.SaltUseLow, "the salt does not dissolve"},
	{detect.SaltDrawLow, detect.BrineHigh, "what is not drawn stands, and the refill comes on top"},
	{detect.SaltDrawLow, detect.HardWater, "the bed is restored in part"},
	{detect.SaltDrawLow, detect.CapacityShort, "the bed is restored in part"},
	{detect.SaltDrawLow, detect.SaltUseLow, "less is drawn"},
	{detect.BrineHigh, detect.SaltDrawHigh, "what seeped in is drawn too"},
	{detect.BrineHigh, detect.SaltUseHigh, "more water dissolves more salt"},
	{detect.BrineHigh, detect.RinseShort, "more brine than the rinse is meant for"},
	{detect.BrineHigh, detect.FloorWetKind, "the tank runs over"},
	{detect.SaltDrawHigh, detect.SaltUseHigh, "each regeneration takes more"},
	{detect.SaltDrawHigh, detect.RinseShort, "more brine than the rinse is meant for"},
	{detect.CapacityShort, detect.HardWater, "the bed runs out before the regeneration"},
	{detect.PressureLoss, detect.HardWater, "a clogged bed lets water through in channels"},
	{detect.PressureLoss, detect.CapacityShort, "a clogged bed lets water through in channels"},
}
