package web

import (
	"slices"
	"testing"
	"time"

	"brinebell/dashboards/web/chart"
	"brinebell/detect"
)

func TestHowAHomeIs(t *testing.T) {
	early, late := fakeNow.Add(-48*time.Hour), fakeNow.Add(-time.Hour)
	leak := detect.Alert{ID: "b", Kind: detect.NightLeak, Severity: detect.ActNow, Onset: late, Summary: "water runs at night"}
	salt := detect.Alert{ID: "a", Kind: detect.SaltLow, Severity: detect.Plan, Onset: early}
	over := leak
	over.Cleared = fakeNow
	for name, c := range map[string]struct {
		alerts   []detect.Alert
		heard    bool
		level    level
		sentence string
		more     string
	}{
		"nothing heard":      {nil, false, unheard, "No sensor has sent a reading yet.", ""},
		"quiet":              {nil, true, quiet, "Nothing needs you.", ""},
		"over":               {[]detect.Alert{over}, true, quiet, "Nothing needs you.", ""},
		"without a summary":  {[]detect.Alert{salt}, true, plan, "The salt is running out.", ""},
		"the pressing first": {[]detect.Alert{salt, leak, over}, true, actNow, "Water runs at night.", "And 1 more thing to look at."},
		"alert, then silent": {[]detect.Alert{leak}, false, actNow, "Water runs at night.", ""},
	} {
		got := conditionOf(c.alerts, c.heard)
		if got.Level != c.level || got.Sentence != c.sentence || got.More != c.more {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

func TestHomesStandByHowLongTheyWait(t *testing.T) {
	line := func(name string, l level, onset time.Duration) homeLine {
		return homeLine{Name: name, Condition: condition{Level: l, open: []detect.Alert{{Onset: fakeNow.Add(-onset)}}}}
	}
	lines := []homeLine{{Name: "z", Condition: condition{Level: quiet}}, line("new", actNow, time.Hour), {Name: "a", Condition: condition{Level: quiet}}, line("plan", plan, 99*time.Hour), line("old", actNow, 9*time.Hour)}
	slices.SortStableFunc(lines, worse)
	var names []string
	for _, l := range lines {
		names = append(names, l.Name)
	}
	if want := []string{"old", "new", "plan", "a", "z"}; !slices.Equal(names, want) {
		t.Errorf("order %q, want %q", names, want)
	}
}

func TestTheTownInOneSentence(t *testing.T) {
	at := func(levels ...level) []homeLine {
		lines := make([]homeLine, len(levels))
		for i, l := range levels {
			lines[i].Condition.Level = l
		}
		return lines
	}
	for want, lines := range map[string][]homeLine{
		"No homes yet.":                                  at(),
		"1 home needs someone now.":                      at(actNow, plan, quiet),
		"2 homes need someone this week, none now.":      at(thisWeek, thisWeek, quiet),
		"Nothing presses; 1 home has something to plan.": at(plan, quiet),
		"Waiting for the first readings.":                at(unheard, unheard),
		"All homes are quiet.":                           at(quiet, unheard),
	} {
		if got := townSentence(lines); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func TestAlertSpansInThePictureTheyConcern(t *testing.T) {
	e := extent{fakeNow.AddDate(0, 0, -7), fakeNow, pictureParts}
	open := detect.Alert{Kind: detect.DrainRunning, Onset: fakeNow.Add(-time.Hour)}
	overlapping := detect.Alert{Kind: detect.DrainRunning, Onset: fakeNow.Add(-3 * time.Hour), Cleared: fakeNow.Add(-30 * time.Minute)}
	old := detect.Alert{Kind: detect.DrainRunning, Onset: fakeNow.AddDate(0, 0, -20), Cleared: fakeNow.AddDate(0, 0, -19)}
	everywhere := detect.Alert{Kind: detect.Unusual, Onset: fakeNow.AddDate(0, 0, -20), Cleared: fakeNow.AddDate(0, 0, -6)}
	bands := alertBands([]detect.Alert{open, overlapping, old, everywhere}, detect.DrainFlow, e)
	want := []chart.Band{{Kind: chart.AlertBand, From: everywhere.Onset, To: everywhere.Cleared, Label: "alert"},
		{Kind: chart.AlertBand, From: overlapping.Onset, To: fakeNow, Label: "alert"}}
	if !slices.Equal(bands, want) {
		t.Errorf("bands %+v, want %+v", bands, want)
	}
	if bands := alertBands([]detect.Alert{open}, detect.BrineLevel, e); len(bands) != 0 {
		t.Errorf("a running drain is marked in the brine's picture: %+v", bands)
	}
}

func TestBlindSpotsFollowTheSensors(t *testing.T) {
	h := detect.DefaultHome("x", time.UTC)
	h.Bypassed = []string{"irrigation"}
	all := map[detect.Signal]bool{}
	for s := range detect.NumSignals {
		all[s] = true
	}
	if got := blindSpots(h, all); len(got) != 0 {
		t.Errorf("a home with every sensor is blind to %q", got)
	}
	if got := blindSpots(h, nil); got != nil {
		t.Errorf("nothing known, yet it says %q", got)
	}
	delete(all, detect.InletFlow)
	if got := blindSpots(h, all); len(got) != 1 || got[0] != "Water at taps that are fed before the softener (irrigation): only the softener has a meter." {
		t.Errorf("only the softener metered: %q", got)
	}
	if got := blindSpots(h, map[detect.Signal]bool{}); len(got) < 7 {
		t.Errorf("a home without sensors is told only %q", got)
	}
}
