package care

import (
	"strings"
	"unicode"

	"brinebell/detect"
)

// titles are the findings in a few words for a household, as the first line of a
// message.
var titles = map[detect.Kind]string{
	detect.NightLeak:            "Water never stops at night",
	detect.Burst:                "Far more water than usual, and it does not stop",
	detect.MeterDead:            "The meter counts nothing while water is used",
	detect.MeterSlow:            "The meter counts too little",
	detect.SaltDrawLow:          "A regeneration drew too little brine",
	detect.SaltDrawHigh:         "A regeneration drew too much brine",
	detect.SaltUseHigh:          "More salt is used than the water explains",
	detect.SaltUseLow:           "Less salt is used than the water needs",
	detect.SaltLow:              "The salt is running out",
	detect.SaltBridgeKind:       "The salt has bridged",
	detect.BrineHigh:            "Too much liquid in the brine tank",
	detect.DrainRunning:         "The drain runs outside a regeneration",
	detect.RegenerationStuck:    "A regeneration does not end",
	detect.RegenerationMissed:   "A regeneration that was due did not come",
	detect.RegenerationFrequent: "Regenerations come too often",
	detect.RegenerationMistimed: "Regenerations come at the wrong hour",
	detect.RinseShort:           "A rinse was too short: the water may taste salty",
	detect.BypassOpen:           "Water goes round the softener",
	detect.HardWater:            "The water is not soft",
	detect.CapacityShort:        "Soft water runs out early",
	detect.PressureLoss:         "The softener lets less water through",
	detect.PowerLost:            "The control valve has no power",
	detect.Stagnant:             "No water has moved for long",
	detect.SensorSilent:         "A sensor has gone silent",
	detect.SensorStuck:          "A sensor keeps saying the same",
	detect.SensorImplausible:    "A sensor says what cannot be",
	detect.SensorClock:          "A sensor's clock is wrong",
	detect.FloorWetKind:         "The floor is wet",
	detect.Unusual:              "Something is unusual, and the cause is not known",
}

// Title is a finding in a few words for a household.
func Title(k detect.Kind) string {
	if t, ok := titles[k]; ok {
		return t
	}
	words := []rune(strings.ReplaceAll(string(k), "_", " "))
	if len(words) == 0 {
		return ""
	}
	words[0] = unicode.ToUpper(words[0])
	return string(words)
}

// cautions are what to be careful of whatever the cause. Lifting: NIOSH
// Publication 94-110 recommends at most 23 kg (51 lb) under ideal conditions.
// Sodium: EPA 822-R-03-006 advises those on a restricted diet to ask a
// physician. Scalding and electricity: ordinary safety advice, from memory.
var cautions = map[detect.Kind]string{
	detect.NightLeak:         "Leave work on the main and on gas heaters to licensed people; your local code comes first.",
	detect.Burst:             "Close the main valve if you can reach it dry. Keep away from sockets and appliances that stand in water.",
	detect.FloorWetKind:      "Keep away from sockets and appliances that stand in water. Touch plugs only with dry hands.",
	detect.SaltLow:           "A salt bag can weigh more than the 23 kg (51 lb) that one person should lift: take small bags, or two people.",
	detect.RinseShort:        "Do not drink water that tastes salty. On a low-sodium diet, ask your physician and use an unsoftened tap.",
	detect.Stagnant:          "Run every tap before you use the water. Hot water above 49 °C (120 °F) scalds.",
	detect.PowerLost:         "Unplug before you open anything, and touch plugs only with dry hands.",
	detect.BrineHigh:         "An overflow salts the floor: keep plugs and cables off it.",
	detect.RegenerationStuck: "Set the bypass slowly. Do not open the valve: it stands under water pressure.",
	detect.DrainRunning:      "Set the bypass slowly. Do not open the valve: it stands under water pressure.",
}

// Caution is what to be careful of with a finding, whatever its cause; empty
// when nothing is.
func Caution(k detect.Kind) string { return cautions[k] }

// Likely says a probability in words, after the scale of Intelligence Community
// Directive 203 (2015), whose bands do not overlap; from memory.
func Likely(p float64) string {
	switch {
	case p >= 0.95:
		return "almost certain"
	case p >= 0.80:
		return "very likely"
	case p >= 0.55:
		return "likely"
	case p >= 0.45:
		return "about even"
	case p >= 0.20:
		return "unlikely"
	}
	return "very unlikely"
}
