package detect

import "fmt"

// Signal names one measured quantity at a home.
type Signal uint8

// The signals, in the order of the design's table.
const (
	InletFlow        Signal = iota // house main, L/min
	InletVolume                    // house main, running total, L
	ServiceFlow                    // through the softener, L/min
	ServiceVolume                  // through the softener, running total, L
	DrainFlow                      // softener's drain line, L/min
	DrainVolume                    // softener's drain line, running total, L
	BrineLevel                     // liquid above the brine tank's floor, in the well, mm
	SaltLevel                      // top of the salt above the tank's floor, mm
	InletPressure                  // before the softener, kPa
	OutletPressure                 // after the softener, kPa
	ValvePower                     // what the control valve draws, W
	RawHardness                    // before the softener, mg/L as CaCO3
	ColdHardness                   // cold tap, mg/L as CaCO3
	HotHardness                    // hot tap, mg/L as CaCO3
	RawIron                        // before the softener, mg/L
	SoftConductivity               // after the softener, uS/cm
	WaterTemperature               // degC
	FloorWet                       // 0 or 1
	Battery                        // of the sensor, %
	NumSignals                     // how many there are
)

var signalNames = [NumSignals]struct{ name, unit, about string }{
	InletFlow:        {"inlet_flow", "L/min", "house main, all water"},
	InletVolume:      {"inlet_volume", "L", "house main, all water: running total"},
	ServiceFlow:      {"service_flow", "L/min", "through the softener"},
	ServiceVolume:    {"service_volume", "L", "through the softener: running total"},
	DrainFlow:        {"drain_flow", "L/min", "the softener's drain line"},
	DrainVolume:      {"drain_volume", "L", "the softener's drain line: running total"},
	BrineLevel:       {"brine_level", "mm", "liquid above the brine tank's floor, measured in the brine well"},
	SaltLevel:        {"salt_level", "mm", "top of the salt above the brine tank's floor"},
	InletPressure:    {"inlet_pressure", "kPa", "before the softener"},
	OutletPressure:   {"outlet_pressure", "kPa", "after the softener"},
	ValvePower:       {"valve_power", "W", "what the softener's control valve draws from the socket"},
	RawHardness:      {"raw_hardness", "mg/L", "before the softener, as CaCO3"},
	ColdHardness:     {"cold_hardness", "mg/L", "cold tap, as CaCO3"},
	HotHardness:      {"hot_hardness", "mg/L", "hot tap, as CaCO3"},
	RawIron:          {"raw_iron", "mg/L", "before the softener"},
	SoftConductivity: {"soft_conductivity", "uS/cm", "after the softener"},
	WaterTemperature: {"water_temperature", "degC", "of the water"},
	FloorWet:         {"floor_wet", "0/1", "1: water on the floor"},
	Battery:          {"battery", "%", "the sensor's, left"},
}

var signalByName = func() map[string]Signal {
	m := make(map[string]Signal, NumSignals)
	for s, n := range signalNames {
		m[n.name] = Signal(s)
	}
	return m
}()

// ParseSignal finds a signal by its identifier, as in "inlet_flow".
func ParseSignal(name string) (Signal, error) {
	if s, ok := signalByName[name]; ok {
		return s, nil
	}
	return 0, unknownSignal(name)
}

// String is the signal's identifier.
func (s Signal) String() string {
	if s >= NumSignals {
		return fmt.Sprintf("signal(%d)", uint8(s))
	}
	return signalNames[s].name
}

// Unit is the signal's canonical unit.
func (s Signal) Unit() string {
	if s >= NumSignals {
		return ""
	}
	return signalNames[s].unit
}

// About says in a few words what the signal measures.
func (s Signal) About() string {
	if s >= NumSignals {
		return ""
	}
	return signalNames[s].about
}

// IsTotal says whether the signal is a running total in litres.
func (s Signal) IsTotal() bool {
	return s == InletVolume || s == ServiceVolume || s == DrainVolume
}

// FlowPoint is the flow signal of the pipe that s measures, by rate or by
// total; ok is false for a signal that measures no pipe.
func (s Signal) FlowPoint() (point Signal, ok bool) {
	switch s {
	case InletFlow, InletVolume:
		return InletFlow, true
	case ServiceFlow, ServiceVolume:
		return ServiceFlow, true
	case DrainFlow, DrainVolume:
		return DrainFlow, true
	}
	return 0, false
}
