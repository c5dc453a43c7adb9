package score

import (
	"bytes"
	"strings"
	"testing"

	"brinebell/detect"
)

// Two faults at once count as named when both are among the first four of what
// stood while both were at work.
func TestPairsAreNamed(t *testing.T) {
	run := func(alerts ...detect.Alert) Causes {
		return New(Input{Alerts: alerts, Exposures: []Exposure{{Home: "a", From: at(0), To: at(60)}},
			Episodes: []Episode{episode(detect.FlapperLeak, 10, 50), episode(detect.ClockWrong, 20, 50)}}).Causes
	}
	leak := alert("1", detect.NightLeak, 12, detect.FlapperLeak, detect.DrippingFixture)
	late := alert("2", detect.RegenerationMistimed, 24, detect.DriveFailed, detect.ClockWrong)
	for name, c := range map[string]struct {
		alerts             []detect.Alert
		found, pairs       int
		first, three, both float64
	}{
		"both":        {[]detect.Alert{leak, late}, 2, 1, 0.5, 1, 1},
		"one only":    {[]detect.Alert{leak}, 1, 0, 1, 1, 0},
		"unnamed":     {[]detect.Alert{leak, alert("2", detect.RegenerationMistimed, 24, detect.DriveFailed, detect.NoPower)}, 2, 1, 0.5, 0.5, 0},
		"over before": {[]detect.Alert{over(leak, 15), late}, 2, 1, 0.5, 1, 0},
	} {
		got := run(c.alerts...)
		if got.Found != c.found || got.Pairs != c.pairs || got.First.Share != c.first || got.FirstThree.Share != c.three || got.Pairs > 0 && got.Both.Share != c.both {
			t.Errorf("%s: %+v", name, got)
		}
	}
	var text bytes.Buffer
	r := New(Input{Alerts: []detect.Alert{leak, late}, Exposures: []Exposure{{Home: "a", From: at(0), To: at(60)}},
		Episodes: []Episode{episode(detect.FlapperLeak, 10, 50), episode(detect.ClockWrong, 20, 50)}})
	if err := r.WriteText(&text); err != nil || !strings.Contains(text.String(), "Right cause first: 50 %") || !strings.Contains(text.String(), "Of 1 pairs found") {
		t.Error(err, text.String())
	}
}

// A forecast that comes true while it stands named its cause rightly, one that was
// taken back did not.
func TestAForecastIsRightWhenItComesTrue(t *testing.T) {
	right := func(a detect.Alert) float64 {
		r := New(Input{Alerts: []detect.Alert{a}, Exposures: []Exposure{{Home: "a", From: at(-60), To: at(60)}}, Episodes: []Episode{episode(detect.SaltEmpty, 0, 20)}})
		return r.Sureness[0].Bins[0].Right.Share
	}
	forecast := alert("1", detect.SaltLow, -10, detect.SaltEmpty)
	if right(forecast) != 1 || right(over(forecast, -5)) != 0 {
		t.Errorf("standing %v, taken back %v", right(forecast), right(over(forecast, -5)))
	}
}
