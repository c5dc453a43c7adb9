package cause

import "brinebell/detect"

// kit is what a technician brings for a cause, in trade terms.
type kit struct{ parts, tools string }

var kits = map[detect.Cause]kit{
	detect.FlapperLeak:     {"flapper or flush-valve seal, chain, filling valve", "food colouring, adjustable wrench"},
	detect.DrippingFixture: {"washers, cartridges, relief valve", "cartridge puller, seat dresser"},
	detect.SupplyLineLeak:  {"repair couplings, pipe and fittings to the local code", "pressure gauge, leak microphone, pipe cutter"},
	detect.FixtureLeftOpen: {"hose-end shut-off, pond or pool filling valve", "none but keys to the outside taps"},
	detect.MeterJammed:     {"turbine, turbine shaft, meter O-rings", "strap wrench, soft brush, silicone grease"},
	detect.MeterCable:      {"meter cable, pick-up, cable ties", "multimeter, magnet, contact cleaner"},
	detect.NoPower:         {"transformer, board fuse, buffer battery", "multimeter, socket tester"},
	detect.BypassLeftOpen:  {"bypass O-rings or a whole bypass", "hardness test, silicone grease"},
	detect.SaltEmpty:       {"two bags of softener salt", "hand truck, hardness test"},
	detect.SaltBridge:      {"a bag of tablet salt to top up", "blunt wooden pole, wet vacuum, lamp"},
	detect.SaltMush:        {"tablet salt for a whole filling, a new grid", "wet vacuum, scoop, bucket"},
	detect.InjectorClogged: {"injector nozzle and throat, injector screen, cap gasket", "wooden pick, nut driver, suction gauge"},
	detect.DrainRestricted: {"drain line, drain line flow control button, air gap fitting", "bucket and watch, drain snake"},
	detect.BrineLineAir:    {"brine line, ferrules and inserts, air check", "tubing cutter, small wrench"},
	detect.FloatStuck:      {"safety float with stem, brine elbow", "measuring rule, warm water"},
	detect.BrineValveLeak:  {"brine valve with seat and stem, brine line flow control", "felt pen, long-nosed pliers"},
	detect.SealsWorn:       {"seal and spacer kit, piston", "seal puller and stuffer, silicone grease"},
	detect.DriveFailed:     {"drive motor, gear, position switch, circuit board", "multimeter, hex keys, nut driver"},
	detect.ClockWrong:      {"buffer battery for the clock", "the valve's manual"},
	detect.SettingHardness: {"reagent for the drop test", "drop test for hardness, iron test, settings sheet"},
	detect.SettingDose:     {"brine line flow control button", "settings sheet, measuring jug, scales"},
	detect.SettingReserve:  {"none", "the home's use by weekday, settings sheet"},
	detect.UseGrew:         {"none; a larger softener if it stays so", "sizing table, the home's use by month"},
	detect.ResinFouled:     {"resin cleaner, iron filter where the well needs it", "sampling tube, iron test, gloves and goggles"},
	detect.ResinSpent:      {"new resin for the whole bed, gravel, distributor", "siphon or resin vacuum, funnel, hand truck"},
	detect.BedClogged:      {"upper and lower distributor, sediment filter and cartridges", "two pressure gauges, bucket and watch"},
	detect.SourceChanged:   {"test strips to leave with the household", "drop test for hardness, iron and pH test"},
	detect.SensorFault:     {"sensor, its battery and mount", "ruler, bucket and watch, the sensor's installation sheet"},
	detect.AwayFromHome:    {"none; nobody need come", "none but the telephone"},
}
