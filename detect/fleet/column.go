package fleet

import "strings"

// Column is a column of the table.
type Column struct {
	Name string
	Key  string // of the profile, as in water.hardness; empty for what is not in it
	Says string // what a cell holds
}

// columns are all there are, in the order in which a template has them.
var columns = [...]Column{
	{"id", "id", "small letters, digits and hyphens, unique; how sensors name the home"},
	{"name", "name", "what people call it"},
	{"timezone", "timezone", "IANA, as in Europe/Dublin"},
	{"firm", "", "id of the firm that looks after it; empty for the one of whoever imports"},
	{"area", "", "of the firm's rounds"},
	{"devices", "", "ids of its sensors, with blanks between"},
	{"units", "units", "metric or us"},
	{"occupants", "occupants", "people"},
	{"hardness", "water.hardness", "as in 300 mg/L or 17 gpg"},
	{"iron", "water.iron", "as in 0.2 mg/L"},
	{"manganese", "water.manganese", "as in 0.05 mg/L"},
	{"resin", "softener.resin", "as in 28.3 L or 1 ft3"},
	{"capacity", "softener.capacity", "as in 0.9 eq/L or 20000 grains"},
	{"salt_dose", "softener.salt_dose", "as in 2.7 kg or 6 lb"},
	{"salt", "softener.salt", "sodium_chloride or potassium_chloride"},
	{"control", "softener.control", "metered_delayed, metered_immediate or timed"},
	{"regeneration_time", "softener.regeneration_time", "as in 02:00"},
	{"days_override", "softener.days_override", "days"},
	{"reserve", "softener.reserve", "as in 20 %"},
	{"refill", "softener.refill", "after or before"},
	{"tanks", "softener.tanks", "single or alternating"},
	{"tank_diameter", "brine_tank.diameter", "as in 460 mm or 18 in"},
	{"tank_height", "brine_tank.height", "as in 840 mm"},
	{"tank_grid", "brine_tank.grid", "as in 0 mm"},
	{"tank_float", "brine_tank.float", "as in 350 mm"},
	{"tank_well", "brine_tank.well", "as in 100 mm"},
	{"inlet_pulse", "meters.inlet.pulse", "as in 0.1 L; empty when there is no such meter"},
	{"inlet_starting_flow", "meters.inlet.starting_flow", "as in 0.1 L/min"},
	{"service_pulse", "meters.service.pulse", "as in 0.1 L; empty when there is no such meter"},
	{"service_starting_flow", "meters.service.starting_flow", "as in 0.1 L/min"},
	{"service_position", "meters.service.position", "upstream or downstream of the resin"},
	{"drain_pulse", "meters.drain.pulse", "as in 0.1 L; empty when there is no such meter"},
	{"water_cost", "costs.water", "as in 3.20 /m3"},
	{"salt_cost", "costs.salt", "as in 0.60 /kg"},
	{"currency", "costs.currency", "as in EUR"},
}

// Columns lists them all.
func Columns() []Column { return columns[:] }

// Header is the first line of a table with every column.
func Header() string {
	names := make([]string, len(columns))
	for i, c := range columns {
		names[i] = c.Name
	}
	return strings.Join(names, ",") + "\n"
}

func columnNamed(name string) (Column, bool) {
	for _, c := range columns {
		if c.Name == name {
			return c, true
		}
	}
	return Column{}, false
}

// columnOf is the column of a profile's key, or of what a key is in.
func columnOf(key string) string {
	for _, c := range columns {
		if c.Key == key {
			return c.Name
		}
	}
	for _, c := range columns {
		if c.Key != "" && strings.HasPrefix(c.Key, key+".") {
			return c.Name
		}
	}
	return key
}
