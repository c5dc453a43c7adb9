package finding

// Watches are all detectors of one home. Each field holds one detector's whole
// state, so that encoding a Watches keeps it exactly.
type Watches struct {
	NightLeak    NightLeakWatch
	MeterDead    MeterDeadWatch
	SaltDraw     SaltDrawWatch
	DrainRunning DrainRunningWatch

	PowerLost         PowerLostWatch
	FloorWet          FloorWetWatch
	Burst             BurstWatch
	MeterSlow         MeterSlowWatch // and bypass_open
	Stagnant          StagnantWatch
	PressureLoss      PressureLossWatch
	SensorSilent      SensorSilentWatch
	SensorStuck       SensorStuckWatch
	SensorImplausible SensorImplausibleWatch
	SensorClock       SensorClockWatch

	Stuck         RegenerationStuckWatch
	Missed        RegenerationMissedWatch
	Frequent      RegenerationFrequentWatch
	Mistimed      RegenerationMistimedWatch
	Bridge        SaltBridgeWatch
	BrineHigh     BrineHighWatch
	SaltUse       SaltUseWatch
	SaltLow       SaltLowWatch
	RinseShort    RinseShortWatch
	HardWater     HardWaterWatch
	CapacityShort CapacityShortWatch
	Unusual       UnusualWatch
}

// All lists the detectors in the order in which they look at a minute.
func (w *Watches) All() []Detector {
	all := []Detector{&w.NightLeak, &w.MeterDead, &w.SaltDraw, &w.DrainRunning,
		&w.PowerLost, &w.FloorWet, &w.Burst, &w.MeterSlow, &w.Stagnant, &w.PressureLoss,
		&w.SensorSilent, &w.SensorStuck, &w.SensorImplausible, &w.SensorClock,
		&w.Stuck, &w.Missed, &w.Frequent, &w.Mistimed, &w.Bridge, &w.BrineHigh, &w.SaltUse, &w.SaltLow,
		&w.RinseShort, &w.HardWater, &w.CapacityShort}
	for i, d := range all { // what no detector names is judged last, knowing what the others said
		all[i] = hearing{d, &w.Unusual}
	}
	return append(all, &w.Unusual)
}
