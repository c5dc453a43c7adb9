package cause

import "brinebell/detect"

// Text is what people are told of a cause.
type Text struct {
	Title      string // a few words
	Household  string // what it means and what to do now
	Technician string // what to look at, in trade terms
	Check      string // the one check that settles it
	Caution    string // what to be careful of; empty when nothing is
	Parts      string // what a technician brings, in trade terms
	Tools      string // and works with
}

// The cautions that belong to more than one text.
const (
	cautionPressure = "The valve stands under water pressure: close the supply or set the bypass and relieve the pressure before opening anything. Work on fixed plumbing follows the local code and is for licensed people."
	cautionPower    = "Electricity and water: dry hands, a protected outlet, and unplug before opening the valve's cover."
	cautionSalt     = "A bag of salt weighs 18 to 25 kg: lift with care or have it carried. On a low-sodium diet ask a physician, and keep an unsoftened tap."
	cautionCleaner  = "Resin cleaner is an acid: gloves and goggles, and never together with bleach, which then gives off chlorine gas. Rinse fully before and after."
	cautionScald    = "Water hotter than 49 degC scalds."
)

// Lookup is the text of a cause; a cause without one gets its identifier as
// title.
func Lookup(c detect.Cause) Text {
	if t, ok := texts[c]; ok {
		t.Parts, t.Tools = kits[c].parts, kits[c].tools
		return t
	}
	return Text{Title: string(c)}
}

var texts = map[detect.Cause]Text{
	detect.FlapperLeak: {
		Title:      "A toilet that keeps refilling",
		Household:  "A toilet's flush valve lets water seep into the bowl, so the cistern tops itself up day and night. Put a little food colouring into each cistern, wait half an hour without flushing: colour in the bowl shows which one.",
		Technician: "Flapper or flush-valve seal worn, or chain too short; check the overflow height as well.",
		Check:      "Colour in the cistern, half an hour without flushing: colour in the bowl?",
	},
	detect.DrippingFixture: {
		Title:      "A tap or shower head that drips",
		Household:  "Something lets a thin trickle through all the time. Look at every tap, shower head and outside tap for drips; a cup under it for an hour tells how much.",
		Technician: "Cartridge or washer worn; temperature-and-pressure relief of the water heater weeping.",
		Check:      "Close the stop valves of the fixtures one after another: at which one does the meter come to rest?",
		Caution:    cautionScald,
	},
	detect.SupplyLineLeak: {
		Title:      "A leaking pipe or connection",
		Household:  "Water may be leaving a pipe where nobody sees it. Look for damp walls, floors and warm or soft spots outside. If you see water, close the main valve and call a plumber.",
		Technician: "Close the house's main valve behind the meter: a meter that still moves says the leak lies before it. Pressure-test the branches.",
		Check:      "All taps shut and each branch closed in turn: which branch stops the meter?",
		Caution:    cautionPressure,
	},
	detect.FixtureLeftOpen: {
		Title:      "Something left open",
		Household:  "A tap, a garden hose or a filling valve may simply be open. Walk round the house and the garden once.",
		Technician: "Check outside taps, pool or pond filling, cistern inlet valves that stick.",
		Check:      "Walk round: is anything running?",
	},
	detect.MeterJammed: {
		Title:      "The water meter sticks",
		Household:  "The meter's wheel does not turn although water flows. A softener that counts by it then never regenerates: ask for service soon, or start a regeneration by hand meanwhile.",
		Technician: "Take the turbine out: grit, iron or a resin bead on the shaft? Clean it, check that it spins freely.",
		Check:      "Open a tap wide: does the wheel turn or the flow display move?",
		Caution:    cautionPressure,
	},
	detect.MeterCable: {
		Title:      "The meter's cable or pick-up",
		Household:  "The meter may turn while its signal does not arrive: a cable can have slipped out or been pinched.",
		Technician: "Check plug, cable and pick-up (magnet, reed or Hall sensor); measure the pulse with a tap open.",
		Check:      "Wiggle the cable with a tap open: do pulses come?",
		Caution:    cautionPower,
	},
	detect.NoPower: {
		Title:      "The softener has no power",
		Household:  "See whether the display is lit, the plug is in and the outlet works.",
		Technician: "Outlet, transformer, fuse on the board; set the clock again afterwards.",
		Check:      "Does another device work in the same outlet?",
		Caution:    cautionPower,
	},
	detect.BypassLeftOpen: {
		Title:      "The bypass is open",
		Household:  "Water may be going round the softener. Look at the bypass: lever or knobs must stand at service.",
		Technician: "Bypass spool or valves not home, or worn seals in the bypass letting hard water across.",
		Check:      "Set the bypass to service and test the cold tap's hardness after a few minutes' flow.",
		Caution:    "Turn the bypass slowly: water that stood in the bed may come out dirty or salty at first. Let a cold tap run.",
	},
	detect.SaltEmpty: {
		Title:      "The salt has run out",
		Household:  "Without salt the softener goes through its cycle and restores nothing. Fill the brine tank with softener salt; soft water returns after the next regeneration or two.",
		Technician: "Refill, allow two hours to dissolve, start a regeneration; look for the reason if it ran out early.",
		Check:      "Open the brine tank: is there salt above the water?",
		Caution:    cautionSalt,
	},
	detect.SaltBridge: {
		Title:      "A crust of salt with a hollow beneath",
		Household:  "The salt can form a hard crust that does not sink, so no brine is made below. Tap gently with a broom handle straight down: a crust gives way to a hollow.",
		Technician: "Break the crust from the middle, never against the wall or the well; look for damp, too full a tank or unsuitable salt.",
		Check:      "Push a blunt stick straight down through the salt: does it meet a crust and then nothing?",
		Caution:    cautionSalt,
	},
	detect.SaltMush: {
		Title:      "Salt sludge at the bottom",
		Household:  "Fine salt at the bottom of the tank has turned to a sludge that keeps brine from being drawn. The tank has to be emptied and cleaned.",
		Technician: "Scoop out, clean well, air check and grid; use tablets of good quality.",
		Check:      "Reach to the tank's bottom: is there soft sludge around the brine well?",
		Caution:    cautionSalt,
	},
	detect.InjectorClogged: {
		Title:      "The injector is clogged",
		Household:  "A small nozzle that sucks the brine is partly blocked, so too little salt reaches the resin. A technician cleans it in a quarter of an hour.",
		Technician: "Bypass, relieve pressure, take out injector nozzle, throat and screen; clean with a wooden pick, never steel. Check suction at the brine line.",
		Check:      "Set brine draw by hand: does the brine line suck at a finger, and how fast does the level fall?",
		Caution:    cautionPressure,
	},
	detect.DrainRestricted: {
		Title:      "The drain line is restricted",
		Household:  "The drain hose may be kinked, blocked or frozen. Look along it as far as you can see.",
		Technician: "Drain line and drain line flow control: back-pressure takes away the injector's suction. Keep the air gap at the drain.",
		Check:      "Lift the drain hose's end over a bucket in backwash: is the flow as it should be?",
		Caution:    "The drain needs its air gap: at least twice the drain opening and at least an inch above the flood rim, as the local code says.",
	},
	detect.BrineLineAir: {
		Title:      "Air in the brine line",
		Household:  "The suction line between tank and valve draws air instead of brine. A loose connection is usual.",
		Technician: "Retighten or renew the brine line's ferrules and tubing, test the air check.",
		Check:      "Watch the brine line in brine draw: do bubbles pass?",
		Caution:    cautionPressure,
	},
	detect.FloatStuck: {
		Title:      "The safety float sticks",
		Household:  "The float in the brine well does not move freely: the tank then fills too little or too much.",
		Technician: "Lift the float through its travel, clean the stem, set its height.",
		Check:      "Lift and lower the float by hand: does it move freely and shut off?",
	},
	detect.BrineValveLeak: {
		Title:      "The brine valve does not close",
		Household:  "Water seeps into the brine tank between regenerations. If the level nears the rim, set the softener to bypass and call for service.",
		Technician: "Brine valve seat and stem, or debris in the seat; see also the piston's seals.",
		Check:      "Mark the level in the brine well in service: has it risen after two hours?",
		Caution:    cautionPressure,
	},
	detect.SealsWorn: {
		Title:      "Worn seals in the control valve",
		Household:  "Water slips past the seals in the valve, to the drain or unsoftened to the house. Until it is mended, setting the bypass stops the waste, at the price of hard water.",
		Technician: "Renew seals and spacers, inspect the piston's coating; grease with silicone only.",
		Check:      "In service, does water leave the drain hose? It must be dry.",
		Caution:    cautionPressure,
	},
	detect.DriveFailed: {
		Title:      "The valve's drive has failed",
		Household:  "The motor does not move the valve to its next position. If water keeps running to the drain, set the bypass.",
		Technician: "Motor, gear, piston rod and position switch; free a piston that has seized.",
		Check:      "Start a regeneration by hand: does the valve reach every position?",
		Caution:    cautionPower + " " + cautionPressure,
	},
	detect.ClockWrong: {
		Title:      "The valve's clock is wrong",
		Household:  "The softener regenerates at the wrong hour, perhaps since a power cut or a clock change. Set its clock.",
		Technician: "Set the clock, replace the buffer battery.",
		Check:      "Does the valve show the right time?",
	},
	detect.SettingHardness: {
		Title:      "The hardness setting does not fit",
		Household:  "The softener is set for another water than yours. Measure the hardness before the softener and have the setting adjusted.",
		Technician: "Test raw hardness and iron, set the compensated hardness.",
		Check:      "A hardness test before the softener against the setting in the valve.",
	},
	detect.SettingDose: {
		Title:      "The salt dose was changed",
		Household:  "The softener takes more or less salt each time than it did before. Has anybody pressed its keys or changed a setting?",
		Technician: "Read the refill time or dose and the brine line flow control; compare with the resin's volume.",
		Check:      "Read the dose in the valve's settings against the last visit's sheet.",
	},
	detect.SettingReserve: {
		Title:      "The reserve does not fit",
		Household:  "The softener starts its cycle too soon or too late for the way you use water. Note the days on which the water was hard, and have the reserve set.",
		Technician: "Set the reserve from the home's use by weekday.",
		Check:      "Compare the reserve with a day's use.",
	},
	detect.UseGrew: {
		Title:      "More water is used than before",
		Household:  "Guests, a new appliance or the garden use more water than usual. Nothing need be broken.",
		Technician: "Check the sizing and the reserve against the present use.",
		Check:      "Ask: more people, a new appliance, watering?",
	},
	detect.ResinFouled: {
		Title:      "The resin is fouled",
		Household:  "Iron or dirt covers the resin, so it softens less. A cleaning often brings it back.",
		Technician: "Test raw iron; clean the resin by the cleaner's directions, shorten the interval, consider an iron filter before it.",
		Check:      "A resin sample or the raw water's iron: brown beads, more than 0.3 mg/L?",
		Caution:    cautionCleaner,
	},
	detect.ResinSpent: {
		Title:      "The resin is worn out",
		Household:  "The resin has aged and holds less hardness than it did. It is changed after eight to ten years on average.",
		Technician: "Compare litres to breakthrough with the resin's capacity at its dose; replace at a quarter's loss.",
		Check:      "Litres of soft water after a full regeneration against the expected.",
		Caution:    cautionPressure,
	},
	detect.BedClogged: {
		Title:      "The resin bed is clogged",
		Household:  "The softener lets less water through than it did: the pressure drops when you draw much.",
		Technician: "Backwash flow, lower and upper distributor, fines and sediment; a sediment filter before it.",
		Check:      "Pressure before and after the softener at full flow.",
		Caution:    cautionPressure,
	},
	detect.SourceChanged: {
		Title:      "The water supplied has changed",
		Household:  "The supplier may deliver other, harder or softer water now. Ask or look at their web page, and measure.",
		Technician: "Measure raw hardness and iron again, set the valve to it.",
		Check:      "Raw hardness now against the last measurement.",
	},
	detect.SensorFault: {
		Title:      "A sensor misleads",
		Household:  "Perhaps nothing is wrong but the sensor that says so. Check its battery, place and cable.",
		Technician: "Compare the sensor with a hand measurement.",
		Check:      "Measure the same by hand: does the sensor agree?",
	},
	detect.AwayFromHome: {
		Title:      "Nobody is at home",
		Household:  "No water is used because nobody is there. After a long absence flush each tap before you drink from it.",
		Technician: "Ask before driving.",
		Check:      "Ask whether the household is away.",
		Caution:    "Water that stood for weeks: flush cold and hot taps before use. A softener does not disinfect.",
	},
}
