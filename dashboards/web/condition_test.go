package web

import (
	"slices"
	"testing"
	"time"

	"brinebell/dashboards/web/chart"
	"brinebell/detect"
	"brinebell/detect/care"
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
		later    time.Duration // of the present after the newest reading
	}{
		"nothing heard":      {nil, false, unheard, "No sensor has sent a reading yet.", "", 0},
		"quiet":              {nil, true, quiet, "Nothing needs you.", "", 0},
		"over":               {[]detect.Alert{over}, true, quiet, "Nothing needs you.", "", 0},
		"without a summary":  {[]detect.Alert{salt}, true, plan, "The salt is running out.", "", 0},
		"the pressing first": {[]detect.Alert{salt, leak, over}, true, actNow, "Water runs at night.", "And 1 more thing to look at.", 0},
		"alert, then silent": {[]detect.Alert{leak}, false, actNow, "Water runs at night.", "", 0},
		"mute":               {nil, true, silent, "Nothing heard since Tue 17 Mar, 15:20.", "", 4 * time.Hour},
		"mute with a plan":   {[]detect.Alert{salt}, true, silent, "Nothing heard since Tue 17 Mar, 15:20.", "And 1 more thing to look at.", 4 * time.Hour},
		"mute with a leak":   {[]detect.Alert{leak}, true, actNow, "Water runs at night.", "Nothing heard since Tue 17 Mar, 15:20.", 4 * time.Hour},
		"not long enough":    {nil, true, quiet, "Nothing needs you.", "", 2 * time.Hour},
	} {
		now, r := time.Time{}, inUnits(detect.Metric)
		if c.heard {
			now = fakeNow
		}
		got := conditionOf(c.alerts, now, fakeNow.Add(c.later), DefaultSilentAfter)
		if got.Level != c.level || unspaced(r.sentence(got)) != c.sentence || unspaced(r.more(got)) != c.more {
			t.Errorf("%s: %+v %q %q", name, got, r.sentence(got), r.more(got))
		}
	}
}

func TestHomesStandByWhatWaitingCosts(t *testing.T) {
	at := func(name string, l level, onset time.Duration, perDay float64) standing {
		h := standing{home: detect.Home{Name: name}, cond: condition{Level: l}}
		if onset > 0 {
			h.cond.open = []detect.Alert{{Onset: fakeNow.Add(-onset)}}
		}
		h.cases = []Case{{Loss: care.Loss{PerDay: perDay / 2}}, {Loss: care.Loss{PerDay: perDay / 2}}}
		h.sum()
		return h
	}
	homes := []standing{at("z", quiet, 0, 0), at("new", actNow, time.Hour, 0), at("a", quiet, 0, 0), at("plan", plan, 99*time.Hour, 0), at("cheap", thisWeek, time.Hour, 0.2),
		at("dear", plan, time.Hour, 3), at("old", actNow, 9*time.Hour, 0), at("running", actNow, time.Minute, 40), at("mute", silent, 0, 0)}
	slices.SortStableFunc(homes, pressing)
	var names []string
	for _, h := range homes {
		names = append(names, h.home.Name)
	}
	if want := []string{"running", "old", "new", "dear", "cheap", "plan", "mute", "a", "z"}; !slices.Equal(names, want) {
		t.Errorf("order %q, want %q", names, want)
	}
}

func TestTheTownInOneSentence(t *testing.T) {
	at := func(levels ...level) []*standing {
		homes := make([]*standing, len(levels))
		for i, l := range levels {
			homes[i] = &standing{cond: condition{Level: l}}
		}
		return homes
	}
	for want, homes := range map[string][]*standing{
		"No homes yet.":                                          at(),
		"1 home needs someone now.":                              at(actNow, plan, quiet),
		"2 homes need someone this week, none now.":              at(thisWeek, thisWeek, quiet),
		"Nothing presses; 1 home has something to plan.":         at(plan, quiet),
		"Nothing presses, but 1 home has not been heard lately.": at(plan, silent, quiet),
		"Waiting for the first readings.":                        at(unheard, unheard),
		"All homes are quiet.":                                   at(quiet, unheard),
	} {
		if got := (asker{}).townSentence(homes); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func TestAlertSpansInThePictureTheyConcern(t *testing.T) {
	e := extent{fakeNow.AddDate(0, 0, -7), fakeNow, pictureParts, 0}
	open := detect.Alert{Kind: detect.DrainRunning, Onset: fakeNow.Add(-time.Hour)}
	overlapping := detect.Alert{Kind: detect.DrainRunning, Onset: fakeNow.Add(-3 * time.Hour), Cleared: fakeNow.Add(-30 * time.Minute)}
	old := detect.Alert{Kind: detect.DrainRunning, Onset: fakeNow.AddDate(0, 0, -20), Cleared: fakeNow.AddDate(0, 0, -19)}
	everywhere := detect.Alert{Kind: detect.Unusual, Onset: fakeNow.AddDate(0, 0, -20), Cleared: fakeNow.AddDate(0, 0, -6)}
	bands := inUnits(detect.Metric).alertBands([]detect.Alert{open, overlapping, old, everywhere}, detect.DrainFlow, e)
	want := []chart.Band{{Kind: chart.AlertBand, From: everywhere.Onset, To: everywhere.Cleared, Label: "alert"},
		{Kind: chart.AlertBand, From: overlapping.Onset, To: fakeNow, Label: "alert"}}
	if !slices.Equal(bands, want) {
		t.Errorf("bands %+v, want %+v", bands, want)
	}
	if bands := inUnits(detect.Metric).alertBands([]detect.Alert{open}, detect.BrineLevel, e); len(bands) != 0 {
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
	if got := readerOf(h).blindSpots(h, all); len(got) != 0 {
		t.Errorf("a home with every sensor is blind to %q", got)
	}
	if got := readerOf(h).blindSpots(h, nil); got != nil {
		t.Errorf("nothing known, yet it says %q", got)
	}
	delete(all, detect.InletFlow)
	if got := readerOf(h).blindSpots(h, all); len(got) != 1 || got[0] != "Water at taps that are fed before the softener (irrigation): only the softener has a meter." {
		t.Errorf("only the softener metered: %q", got)
	}
	if got := readerOf(h).blindSpots(h, map[detect.Signal]bool{}); len(got) < 7 {
		t.Errorf("a home without sensors is told only %q", got)
	}
}
