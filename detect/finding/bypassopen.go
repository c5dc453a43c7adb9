package finding

import (
	"fmt"

	"brinebell/detect"
)

const (
	// bypassDrain is the drain water that must have passed for it to bear
	// witness, L: a backwash has more.
	bypassDrain = 25.0
	// bypassTests is how many hardness readings bear witness: the first ones only.
	// An open bypass is hard at the tap at once; behind a dead meter the softener
	// stops regenerating, and the water turns hard too, but days later.
	bypassTests = 6
	// softLeft is the hardness that a softener leaves at worst, mg/L: 1 grain a US
	// gallon (common practice).
	softLeft = 17.1
)

// BypassEvidence is what tells an open bypass from a meter that under-reads,
// where the softener's meter shows too little: what passed since it began.
//
// In a regeneration all drain water passes a meter before the resin, bypass
// or not: a sound meter shows it in full, a slow one in part. And water that
// goes round the softener is hard at the tap. Without a drain meter and a
// hardness probe nothing tells them apart; then meter_slow is said, and that the
// bypass is to be checked. Irrigation tapped before the softener is known from
// the profile only.
type BypassEvidence struct {
	Drain, Passed float64 // litres to the drain, and at the softener's meter meanwhile
	Hardness      float64 // sum of the first cold-tap readings while water runs, mg/L
	Tests         int
}

// hear takes in a minute in which water ran.
func (b *BypassEvidence) hear(v *View, soft float64) {
	if drain, ok := v.Minute.Get(detect.DrainFlow); ok && drain > 0.5 && v.beforeDrain(detect.ServiceFlow) {
		b.Drain, b.Passed = b.Drain+drain, b.Passed+min(soft, 1.3*drain)
	}
	if hardness, ok := v.Minute.Get(detect.ColdHardness); ok && !v.Regenerating && b.Tests < bypassTests {
		b.Hardness, b.Tests = b.Hardness+hardness, b.Tests+1
	}
}

// open says whether it is the bypass, when share of the water is seen; known is
// false when nothing can tell.
func (b *BypassEvidence) open(v *View, share float64) (open, known bool) {
	switch {
	case b.Drain >= bypassDrain:
		return b.Passed/b.Drain > (1+share)/2, true
	case b.Tests >= bypassTests:
		round := (1 - share) * v.Books.RawHardness()
		return b.Hardness/float64(b.Tests) > softLeft+round/2, true
	}
	return false, false
}

// awaited says whether a witness is there that may still speak.
func (b *BypassEvidence) awaited(v *View) bool {
	return v.Sensors.HasFlow(detect.DrainFlow) && v.beforeDrain(detect.ServiceFlow) || v.Sensors.Has(detect.ColdHardness)
}

func sayBypass(v *View, round float64) string {
	text := "All water seems to go round the softener"
	if round < 0.97 {
		text = fmt.Sprintf("About %.0f %% of the water seems to go round the softener", 100*round)
	}
	return text + ", so it reaches the taps hard. Look whether the bypass stands at service."
}
