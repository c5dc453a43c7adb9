package web

import (
	"slices"

	"brinebell/dashboards/web/chart"
	"brinebell/detect"
)

func regenerationBands(records []Regeneration) []chart.Band {
	bands := make([]chart.Band, len(records))
	for i, rec := range records {
		bands[i] = chart.Band{Kind: chart.RegenerationBand, From: rec.Start, To: rec.End}
	}
	return bands
}

// seenIn names the pictures in which a finding shows. One that is not listed is
// marked in all of them.
var seenIn = map[detect.Kind][]detect.Signal{
	detect.NightLeak: {detect.InletFlow, detect.ServiceFlow}, detect.Burst: {detect.InletFlow, detect.ServiceFlow},
	detect.MeterDead: {detect.InletFlow, detect.ServiceFlow}, detect.MeterSlow: {detect.InletFlow, detect.ServiceFlow},
	detect.BypassOpen: {detect.InletFlow, detect.ServiceFlow}, detect.Stagnant: {detect.InletFlow, detect.ServiceFlow},
	detect.DrainRunning: {detect.DrainFlow},
	detect.SaltDrawLow:  {detect.BrineLevel}, detect.SaltDrawHigh: {detect.BrineLevel}, detect.SaltBridgeKind: {detect.BrineLevel},
	detect.SaltLow: {detect.BrineLevel}, detect.SaltUseHigh: {detect.BrineLevel}, detect.SaltUseLow: {detect.BrineLevel},
	detect.BrineHigh:  {detect.BrineLevel},
	detect.RinseShort: {detect.DrainFlow, detect.BrineLevel}, detect.RegenerationStuck: {detect.DrainFlow, detect.BrineLevel},
	detect.RegenerationMissed: {detect.DrainFlow, detect.BrineLevel}, detect.RegenerationFrequent: {detect.DrainFlow, detect.BrineLevel},
	detect.RegenerationMistimed: {detect.DrainFlow, detect.BrineLevel},
}

// alertBands are the spans of the alerts that show in the signal's picture; an
// open one lasts until now. Spans that overlap become one, so that their words
// do not cover each other.
func (r reader) alertBands(alerts []detect.Alert, signal detect.Signal, e extent) []chart.Band {
	var bands []chart.Band
	for _, a := range alerts {
		if where, ok := seenIn[a.Kind]; ok && !slices.Contains(where, signal) {
			continue
		}
		to := a.Cleared
		if a.Open() {
			to = e.to
		}
		if to.After(e.from) && a.Onset.Before(e.to) {
			bands = append(bands, chart.Band{Kind: chart.AlertBand, From: a.Onset, To: to, Label: r.Say("mark.alert")})
		}
	}
	slices.SortFunc(bands, func(a, b chart.Band) int { return a.From.Compare(b.From) })
	return joinedBands(bands)
}

func joinedBands(bands []chart.Band) []chart.Band {
	var out []chart.Band
	for _, b := range bands {
		if last := len(out) - 1; last >= 0 && !b.From.After(out[last].To) {
			if b.To.After(out[last].To) {
				out[last].To = b.To
			}
			continue
		}
		out = append(out, b)
	}
	return out
}
