package score

import (
	"strings"
	"testing"
	"time"

	"brinebell/detect"
)

func sighted(starting float64, signals ...detect.Signal) *Sight {
	h := detect.DefaultHome("a", time.UTC)
	h.Meters.Inlet = &detect.Meter{Pulse: 0.1, StartingFlow: starting}
	h.Meters.Service = &detect.Meter{Pulse: 0.1, StartingFlow: 2 * starting}
	return &Sight{Profile: h, Signals: signals}
}

// drips is a tenth of a litre a minute at full severity.
func drips(c detect.Cause, severity float64) float64 {
	if c == detect.SealsWorn {
		return 0
	}
	return severity / 10
}

func TestWhatSensorsCannotShow(t *testing.T) {
	for _, c := range []struct {
		name  string
		fault detect.Cause
		sight *Sight
		why   string
	}{
		{"a drip below every meter's start", detect.DrippingFixture, sighted(0.06, detect.InletVolume), "begin to turn"},
		{"a drip above one meter's start", detect.DrippingFixture, sighted(0.04, detect.InletVolume), ""},
		{"a cistern refills at full flow", detect.FlapperLeak, sighted(0.06, detect.InletVolume), ""},
		{"seals without a meter at the drain", detect.SealsWorn, sighted(0.01, detect.InletVolume, detect.BrineLevel), "needs drain_flow"},
		{"seals with one", detect.SealsWorn, sighted(0.01, detect.InletVolume, detect.DrainVolume), ""},
		{"a total is as good as a rate", detect.MeterJammed, sighted(0.01, detect.ServiceVolume, detect.InletFlow), ""},
		{"a meter without a witness", detect.MeterJammed, sighted(0.01, detect.ServiceVolume), "needs service_flow with inlet_flow, or"},
		{"resin where nothing measures hardness", detect.ResinSpent, sighted(0.01, detect.InletVolume, detect.BrineLevel), "needs cold_hardness"},
		{"signals not known", detect.ResinSpent, sighted(0.01), ""},
		{"nothing known", detect.ResinSpent, nil, ""},
	} {
		m := matcher{rules: rulesByCause(), sight: c.sight, flow: drips}
		judged, _ := m.judge([]Episode{episode(c.fault, 0, 30)})
		j := judged[0]
		if c.why == "" && j.Outcome != Missed || c.why != "" && (j.Outcome != NotVisible || !strings.Contains(j.Why, c.why)) {
			t.Errorf("%s: %s, %q", c.name, j.Outcome, j.Why)
		}
	}
}

// What was found was visible, whatever the sensors.
func TestFoundIsNeverInvisible(t *testing.T) {
	m := matcher{rules: rulesByCause(), sight: sighted(5, detect.Battery), flow: drips, alerts: []detect.Alert{alert("1", detect.NightLeak, 2)}}
	judged, _ := m.judge([]Episode{episode(detect.DrippingFixture, 0, 30)})
	if judged[0].Outcome != Found {
		t.Errorf("%+v", judged[0])
	}
}
