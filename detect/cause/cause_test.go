package cause

import (
	"testing"

	"brinebell/detect"
)

// What the evidence says turns the ranking (common practice, no source).
func TestRankFollowsEvidence(t *testing.T) {
	for _, c := range []struct {
		kind detect.Kind
		e    detect.Evidence
		want detect.Cause
	}{
		{detect.NightLeak, detect.Evidence{"pattern": "refilling", "size_l_per_min": 0.03}, detect.FlapperLeak},
		{detect.NightLeak, detect.Evidence{"pattern": "steady", "size_l_per_min": 0.02}, detect.DrippingFixture},
		{detect.NightLeak, detect.Evidence{"pattern": "steady", "size_l_per_min": 6.0}, detect.FixtureLeftOpen},
		{detect.MeterDead, detect.Evidence{"meter": "service", "witness": "drain"}, detect.MeterJammed},
		{detect.MeterDead, detect.Evidence{"meter": "inlet", "witness": "nothing"}, detect.AwayFromHome},
		{detect.SaltDrawLow, detect.Evidence{"drawn_share": 0.43, "drain_share": 1.0, "refill_share": 0.44}, detect.SaltEmpty},
		{detect.SaltDrawLow, detect.Evidence{"drawn_share": 0.5, "drain_share": 0.5, "refill_share": 1.0}, detect.DrainRestricted},
		{detect.DrainRunning, detect.Evidence{"size_l_per_min": 5.0}, detect.DriveFailed},
		{detect.DrainRunning, detect.Evidence{"size_l_per_min": 0.2}, detect.SealsWorn},
		{detect.RegenerationMistimed, nil, detect.ClockWrong},
		{detect.PowerLost, nil, detect.NoPower},
		{detect.PressureLoss, nil, detect.BedClogged},
		{detect.SaltBridgeKind, nil, detect.SaltBridge},
	} {
		if got := Rank(c.kind, c.e); got[0].Cause != c.want {
			t.Errorf("%s %v: %v, want %s first", c.kind, c.e, got, c.want)
		}
	}
}
