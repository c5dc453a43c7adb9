package score

import (
	"slices"
	"testing"
	"time"

	"brinebell/detect"
)

var noon = time.Date(2026, 3, 10, 12, 0, 0, 0, time.UTC)

// at is an instant so many days after noon.
func at(days float64) time.Time { return noon.Add(time.Duration(days * float64(day))) }

func episode(c detect.Cause, from, to float64) Episode {
	return Episode{Home: "a", Fault: c, Start: at(from), End: at(to), Severity: 0.5}
}

func alert(id string, k detect.Kind, raised float64, causes ...detect.Cause) detect.Alert {
	a := detect.Alert{ID: id, Home: "a", Kind: k, Severity: detect.ThisWeek, Onset: at(raised - 1), Raised: at(raised)}
	for i, c := range causes {
		a.Causes = append(a.Causes, detect.CauseShare{Cause: c, Probability: 0.6 / float64(i+1)})
	}
	return a
}

// over is an alert that has cleared.
func over(a detect.Alert, cleared float64) detect.Alert {
	a.Cleared = at(cleared)
	return a
}

// question is an alert that can wait.
func question(a detect.Alert) detect.Alert {
	a.Severity = detect.Plan
	return a
}

// What belongs to what. Outcomes are in the order of the episodes, verdicts in
// the order of raising.
func TestMatching(t *testing.T) {
	type (
		outcomes []Outcome
		verdicts []Verdict
	)
	for _, c := range []struct {
		name     string
		episodes []Episode
		alerts   []detect.Alert
		want     outcomes
		heard    verdicts
		repeats  int
	}{
		{name: "nothing wrong, nothing said"},
		{name: "nothing wrong, something said", alerts: []detect.Alert{alert("1", detect.NightLeak, 3)}, heard: verdicts{False}},
		{name: "found", episodes: []Episode{episode(detect.FlapperLeak, 0, 20)}, alerts: []detect.Alert{alert("1", detect.NightLeak, 3)},
			want: outcomes{Found}, heard: verdicts{Right}},
		{name: "said nothing", episodes: []Episode{episode(detect.FlapperLeak, 0, 20)}, want: outcomes{Missed}},
		{name: "a forecast that stands when it comes true", episodes: []Episode{episode(detect.SaltEmpty, 0, 20)}, alerts: []detect.Alert{alert("1", detect.SaltLow, -30)},
			want: outcomes{Found}, heard: verdicts{Right}},
		{name: "a forecast that was taken back", episodes: []Episode{episode(detect.SaltEmpty, 0, 20)}, alerts: []detect.Alert{over(alert("1", detect.SaltLow, -30), -12)},
			want: outcomes{Missed}, heard: verdicts{False}},
		{name: "a forecast of the year before", episodes: []Episode{episode(detect.SaltEmpty, 0, 20)}, alerts: []detect.Alert{alert("1", detect.SaltLow, -70)},
			want: outcomes{Missed}, heard: verdicts{False}},
		{name: "a leak is not forecast", episodes: []Episode{episode(detect.FlapperLeak, 0, 20)}, alerts: []detect.Alert{alert("1", detect.NightLeak, -30)},
			want: outcomes{Missed}, heard: verdicts{False}},
		{name: "weak brine before the last grain", episodes: []Episode{episode(detect.SaltEmpty, 0, 20)}, alerts: []detect.Alert{alert("1", detect.SaltDrawLow, -5)},
			want: outcomes{Missed}, heard: verdicts{Consequence}},
		{name: "the wrong kind", episodes: []Episode{episode(detect.FlapperLeak, 0, 20)}, alerts: []detect.Alert{alert("1", detect.PressureLoss, 3)},
			want: outcomes{Missed}, heard: verdicts{False}},
		{name: "before the onset", episodes: []Episode{episode(detect.FlapperLeak, 0, 20)}, alerts: []detect.Alert{alert("1", detect.NightLeak, -0.1)},
			want: outcomes{Missed}, heard: verdicts{False}},
		{name: "within a clock's error before the onset", episodes: []Episode{episode(detect.FlapperLeak, 0, 20)}, alerts: []detect.Alert{alert("1", detect.NightLeak, -0.003)},
			want: outcomes{Found}, heard: verdicts{Right}},
		{name: "within the grace", episodes: []Episode{episode(detect.FlapperLeak, 0, 2)}, alerts: []detect.Alert{alert("1", detect.NightLeak, 3.9)},
			want: outcomes{Found}, heard: verdicts{Right}},
		{name: "after the grace, within the aftermath", episodes: []Episode{episode(detect.FlapperLeak, 0, 2)}, alerts: []detect.Alert{alert("1", detect.NightLeak, 4.1)},
			want: outcomes{Missed}, heard: verdicts{Consequence}},
		{name: "after the aftermath", episodes: []Episode{episode(detect.FlapperLeak, 0, 2)}, alerts: []detect.Alert{alert("1", detect.NightLeak, 16.1)},
			want: outcomes{Missed}, heard: verdicts{False}},
		{name: "right, but too late to help", episodes: []Episode{episode(detect.FlapperLeak, 0, 60)}, alerts: []detect.Alert{alert("1", detect.NightLeak, 15)},
			want: outcomes{Late}, heard: verdicts{Right}},
		{name: "a consequence finds nothing", episodes: []Episode{episode(detect.SealsWorn, 0, 20)}, alerts: []detect.Alert{alert("1", detect.NightLeak, 2)},
			want: outcomes{Missed}, heard: verdicts{Consequence}},
		{name: "worn seals with all they bring", episodes: []Episode{episode(detect.SealsWorn, 0, 20)},
			alerts: []detect.Alert{alert("1", detect.DrainRunning, 1), alert("2", detect.NightLeak, 2), alert("3", detect.RegenerationFrequent, 3),
				alert("4", detect.CapacityShort, 4), alert("5", detect.HardWater, 5), alert("6", detect.SaltUseHigh, 6), alert("7", detect.Unusual, 7)},
			want: outcomes{Found}, heard: verdicts{Right, Consequence, Consequence, Consequence, Consequence, Consequence, Consequence}},
		{name: "jammed in part reads low", episodes: []Episode{episode(detect.MeterJammed, 0, 20)}, alerts: []detect.Alert{alert("1", detect.MeterSlow, 4)},
			want: outcomes{Found}, heard: verdicts{Right}},
		{name: "an empty house is asked about", episodes: []Episode{episode(detect.AwayFromHome, 0, 20)}, alerts: []detect.Alert{question(alert("1", detect.MeterDead, 5)), alert("2", detect.Stagnant, 8)},
			want: outcomes{Found}, heard: verdicts{Consequence, Right}},
		{name: "an empty house is no dead meter", episodes: []Episode{episode(detect.AwayFromHome, 0, 20)}, alerts: []detect.Alert{alert("1", detect.MeterDead, 5)},
			want: outcomes{Missed}, heard: verdicts{False}},
		{name: "a weekend away is not asked for", episodes: []Episode{episode(detect.AwayFromHome, 0, 3)}, want: outcomes{NotVisible}},
		{name: "two alerts of one fault", episodes: []Episode{episode(detect.FlapperLeak, 0, 30)},
			alerts: []detect.Alert{over(alert("1", detect.NightLeak, 3), 5), alert("2", detect.NightLeak, 7)},
			want:   outcomes{Found}, heard: verdicts{Right, Right}, repeats: 1},
		{name: "two kinds of one fault repeat nothing", episodes: []Episode{episode(detect.SupplyLineLeak, 0, 30)},
			alerts: []detect.Alert{alert("1", detect.Burst, 0.1), alert("2", detect.NightLeak, 3)},
			want:   outcomes{Found}, heard: verdicts{Right, Right}},
		{name: "re-opened after the repair", episodes: []Episode{episode(detect.FlapperLeak, 0, 10)},
			alerts: []detect.Alert{over(alert("1", detect.NightLeak, 3), 11), alert("2", detect.NightLeak, 30)},
			want:   outcomes{Found}, heard: verdicts{Right, False}},
		{name: "the same fault twice", episodes: []Episode{episode(detect.FlapperLeak, 0, 10), episode(detect.FlapperLeak, 40, 50)},
			alerts: []detect.Alert{over(alert("1", detect.NightLeak, 3), 11), alert("2", detect.NightLeak, 43)},
			want:   outcomes{Found, Found}, heard: verdicts{Right, Right}},
		{name: "one alert for two that overlap", episodes: []Episode{episode(detect.FlapperLeak, 0, 20), episode(detect.DrippingFixture, 1, 20)},
			alerts: []detect.Alert{alert("1", detect.NightLeak, 3)}, want: outcomes{Found, Found}, heard: verdicts{Right}},
		{name: "its alert already stands for another fault", episodes: []Episode{episode(detect.FlapperLeak, 0, 20), episode(detect.DrippingFixture, 5, 20)},
			alerts: []detect.Alert{alert("1", detect.NightLeak, 3)}, want: outcomes{Found, Masked}, heard: verdicts{Right}},
		{name: "the other's alert had cleared", episodes: []Episode{episode(detect.FlapperLeak, 0, 20), episode(detect.DrippingFixture, 5, 20)},
			alerts: []detect.Alert{over(alert("1", detect.NightLeak, 3), 4)}, want: outcomes{Found, Missed}, heard: verdicts{Right}},
		{name: "a false alarm that stands masks nothing", episodes: []Episode{episode(detect.FlapperLeak, 0, 20)},
			alerts: []detect.Alert{alert("1", detect.NightLeak, -3)}, want: outcomes{Missed}, heard: verdicts{False}},
		{name: "one fault's consequence, the other's finding", episodes: []Episode{episode(detect.SealsWorn, 0, 30), episode(detect.FlapperLeak, 5, 30)},
			alerts: []detect.Alert{alert("1", detect.DrainRunning, 1), alert("2", detect.NightLeak, 2), alert("3", detect.NightLeak, 9)},
			want:   outcomes{Found, Found}, heard: verdicts{Right, Consequence, Right}},
		{name: "a wrong clock's alert seems to come early", episodes: []Episode{episode(detect.SensorFault, 0, 20)}, alerts: []detect.Alert{alert("1", detect.SensorClock, -0.3)},
			want: outcomes{Found}, heard: verdicts{Right}},
		{name: "a wrong sensor wakes nobody for a leak", episodes: []Episode{episode(detect.SensorFault, 0, 20)}, alerts: []detect.Alert{alert("1", detect.NightLeak, 2)},
			want: outcomes{Missed}, heard: verdicts{False}},
		{name: "the recording ends too soon", episodes: []Episode{episode(detect.FlapperLeak, 55, 60)}, want: outcomes{Undecided}},
		{name: "found all the same", episodes: []Episode{episode(detect.FlapperLeak, 55, 60)}, alerts: []detect.Alert{alert("1", detect.NightLeak, 58)},
			want: outcomes{Found}, heard: verdicts{Right}},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := matcher{rules: rulesByCause(), alerts: slices.Clone(c.alerts), until: at(60)}
			judged, heard := m.judge(c.episodes)
			var got outcomes
			repeats := 0
			for _, j := range judged {
				got, repeats = append(got, j.Outcome), repeats+j.Repeats
			}
			var said verdicts
			for _, h := range heard {
				said = append(said, h.Verdict)
			}
			if !slices.Equal(got, c.want) || !slices.Equal(said, c.heard) || repeats != c.repeats {
				t.Errorf("episodes %v, want %v; alerts %v, want %v; %d repeats", got, c.want, said, c.heard, repeats)
			}
		})
	}
}

func TestTheEarliestAlertCountsInItsLastState(t *testing.T) {
	m := matcher{rules: rulesByCause(), alerts: []detect.Alert{
		alert("later", detect.Burst, 2, detect.SupplyLineLeak),
		alert("first", detect.NightLeak, 1, detect.FlapperLeak, detect.SupplyLineLeak),
	}}
	judged, _ := m.judge([]Episode{episode(detect.SupplyLineLeak, 0, 20)})
	if j := judged[0]; j.Alert != "first" || j.Kind != detect.NightLeak || j.Rank != 2 || j.Delay != 24 {
		t.Errorf("%+v", j)
	}
}

func TestRulesAreWhole(t *testing.T) {
	rules := Rules()
	for i, c := range detect.Causes() {
		r := rules[i]
		if r.Cause != c || len(r.Finds) == 0 || r.Why == "" || r.Grace <= 0 || r.Delay <= 0 || r.Aftermath < r.Grace {
			t.Errorf("%s: %+v", c, r)
		}
		for _, k := range slices.Concat(r.Finds, r.Follows, r.Questions) {
			if !slices.Contains(detect.Kinds(), k) {
				t.Errorf("%s: unknown kind %q", c, k)
			}
		}
		for _, k := range slices.Concat(r.Follows, r.Questions) {
			if slices.Contains(r.Finds, k) {
				t.Errorf("%s: %s both finds and follows", c, k)
			}
		}
	}
	if len(rules) != len(detect.Causes()) {
		t.Errorf("%d rules", len(rules))
	}
}

// Every kind but those that claim nothing or belong to no cause can find
// something.
func TestEveryKindHasItsCause(t *testing.T) {
	for _, k := range detect.Kinds() {
		found := slices.ContainsFunc(Rules(), func(r Rule) bool { return slices.Contains(r.Finds, k) })
		if !found && k != detect.Unusual {
			t.Errorf("no cause is found by %s", k)
		}
	}
}
