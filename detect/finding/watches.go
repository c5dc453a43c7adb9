package finding

// Watches are all detectors of one home. Each field holds one detector's whole
// state, so that encoding a Watches keeps it exactly.
type Watches struct {
	NightLeak    NightLeakWatch
	MeterDead    MeterDeadWatch
	SaltDraw     SaltDrawWatch
	DrainRunning DrainRunningWatch
}

// All lists the detectors in the order in which they look at a minute.
func (w *Watches) All() []Detector {
	return []Detector{&w.NightLeak, &w.MeterDead, &w.SaltDraw, &w.DrainRunning}
}
