package web

import (
	"context"
	"html/template"
	"math"
	"slices"
	"strings"
	"time"

	"brinebell/dashboards/web/chart"
	"brinebell/detect"
)

// flowsOf are the flows that tell of a home's water.
func flowsOf() []detect.Signal { return []detect.Signal{detect.InletFlow, detect.ServiceFlow} }

// cycleSignals are those that show a regeneration.
func cycleSignals() []detect.Signal { return []detect.Signal{detect.DrainFlow, detect.BrineLevel} }

// evidenceSignals are the signals from which a kind of finding comes, the most
// telling first.
func evidenceSignals(a detect.Alert) []detect.Signal {
	switch a.Kind {
	case detect.NightLeak, detect.Burst, detect.MeterDead, detect.MeterSlow, detect.BypassOpen, detect.Stagnant:
		return flowsOf()
	case detect.DrainRunning:
		return []detect.Signal{detect.DrainFlow}
	case detect.SaltLow, detect.SaltBridgeKind, detect.SaltUseHigh, detect.SaltUseLow:
		return []detect.Signal{detect.SaltLevel, detect.BrineLevel}
	case detect.BrineHigh:
		return []detect.Signal{detect.BrineLevel}
	case detect.HardWater, detect.CapacityShort, detect.RinseShort:
		return []detect.Signal{detect.ColdHardness, detect.HotHardness, detect.SoftConductivity, detect.DrainFlow}
	case detect.PressureLoss:
		return []detect.Signal{detect.OutletPressure, detect.InletPressure}
	case detect.PowerLost:
		return []detect.Signal{detect.ValvePower}
	case detect.FloorWetKind:
		return []detect.Signal{detect.FloorWet, detect.DrainFlow}
	case detect.SensorSilent, detect.SensorStuck, detect.SensorImplausible, detect.SensorClock:
		return namedSignals(a)
	}
	return cycleSignals()
}

// namedSignals are the signals that the evidence of a sensor's trouble names.
func namedSignals(a detect.Alert) []detect.Signal {
	list, _ := a.Evidence["signals"].(string)
	if pair, ok := a.Evidence["between"].(string); ok {
		list = pair
	}
	var out []detect.Signal
	for name := range strings.SplitSeq(list, ",") {
		s, err := detect.ParseSignal(strings.ReplaceAll(strings.TrimSpace(name), " ", "_"))
		if err != nil {
			continue
		}
		if point, ok := s.FlowPoint(); ok {
			s = point
		}
		if _, drawable := subjects[s]; drawable && !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out
}

// limit is a number of the evidence that stands in the picture as a level.
type limit struct {
	key, name string // in the evidence, in the catalogue
	at        detect.Dimension
}

// limits are the thresholds that alerts are held against.
var limits = map[detect.Kind][]limit{
	detect.NightLeak:    {{"smallest_visible_l_per_min", "limit.visible", detect.FlowRate}},
	detect.DrainRunning: {{"smallest_visible_l_per_min", "limit.visible", detect.FlowRate}},
	detect.Burst:        {{"peak_before_l_per_min", "limit.peak", detect.FlowRate}},
	detect.BrineHigh:    {{"usual_level_mm", "limit.usual", detect.Length}, {"float_mm", "limit.float", detect.Length}},
	detect.HardWater:    {{"raw_mg_per_l", "limit.raw", detect.Hardness}},
}

// panelsShown is how many signals one picture holds at most.
const panelsShown = 2

// The time around an alert that its picture shows: of what happens within hours
// and of what shows over days.
const (
	fastBefore, fastAfter = 12 * time.Hour, 6 * time.Hour
	slowBefore, slowAfter = 4 * 24 * time.Hour, 24 * time.Hour
	// slowLeast is how much of what goes on is shown at least.
	slowLeast = 3 * 24 * time.Hour
)

// around is the span that led to the alert.
func around(a detect.Alert, now time.Time) extent {
	before, after, least := slowBefore, slowAfter, slowLeast
	switch a.Kind {
	case detect.Burst, detect.FloorWetKind, detect.PowerLost, detect.RegenerationStuck:
		before, after, least = fastBefore, fastAfter, fastAfter
	}
	to := later(a.Raised.Add(after), a.Onset.Add(least))
	if !a.Open() && a.Cleared.Before(to.Add(slowAfter)) {
		to = later(to, a.Cleared.Add(after/2))
	}
	if to.After(now) {
		to = now.Add(time.Second)
	}
	return extent{a.Onset.Add(-before), to, pictureParts, 0}
}

// evidencePicture draws the signals that led to an alert: its span hatched, when
// it was noticed, where the values usually lie, what they were held against and
// the regenerations.
func (s *Server) evidencePicture(ctx context.Context, h detect.Home, a detect.Alert, all []detect.Alert) (pictureView, error) {
	read, e := askerOf(ctx).reads(h), around(a, s.Source.Now(h.ID))
	v := pictureView{ID: "evidence-" + a.ID, Title: read.Say("evidence.title"), Note: read.Say("evidence.note")}
	records, err := s.Source.Regenerations(ctx, h.ID, e.from, e.to)
	if err != nil {
		return v, err
	}
	p := chart.Picture{ID: "picture-" + v.ID, Title: read.Say("evidence.of", "what", read.kindTitle(a.Kind)), Axis: read.axis(e), Bands: read.evidenceBands(a, records, e)}
	v.Table.Head = read.List("evidence.table")
	for _, signal := range evidenceSignals(a) {
		if len(p.Panels) == panelsShown {
			break
		}
		panel, rows, desc, err := s.evidencePanel(ctx, read, h, signal, a, e)
		if err != nil {
			return v, err
		}
		if panel != nil {
			p.Panels, p.Desc = append(p.Panels, *panel), p.Desc+desc+" "
			v.Table.Rows = append(v.Table.Rows, rows...)
			v.Normal = v.Normal || len(panel.Normal) > 0
		}
	}
	if len(p.Panels) == 0 {
		v.Note, v.Missing = "", read.Say("evidence.missing")
		return v, nil
	}
	if len(p.Panels) == 1 {
		v.Unit, v.Title = p.Panels[0].Unit, p.Panels[0].Name
	}
	v.SVG, v.Marks = template.HTML(p.SVG()), marksOf(p.Bands, e) // #nosec G203 -- chart escapes every text
	return v, nil
}

func (r reader) evidenceBands(a detect.Alert, records []Regeneration, e extent) []chart.Band {
	to := a.Cleared
	if a.Open() {
		to = e.to
	}
	bands := append(regenerationBands(records), chart.Band{Kind: chart.AlertBand, From: a.Onset, To: to, Label: r.Say("mark.alert")})
	if a.Raised.After(a.Onset) && a.Raised.Before(e.to) {
		bands = append(bands, chart.Band{Kind: chart.MomentBand, From: a.Raised, To: a.Raised.Add(time.Second), Label: r.Say("mark.noticed")})
	}
	return bands
}

// evidencePanel is one signal of the picture; nil when nothing was measured.
func (s *Server) evidencePanel(ctx context.Context, read reader, h detect.Home, signal detect.Signal, a detect.Alert, e extent) (*chart.Panel, [][]string, string, error) {
	points, err := s.points(ctx, h.ID, signal, e)
	if err != nil || len(points) == 0 {
		return nil, nil, "", err
	}
	about := subjects[signal]
	panel := read.panel(about, points, about.dimension == detect.FlowRate)
	if panel.Normal, err = s.normal(ctx, read, h, signal, a.Onset, e); err != nil {
		return nil, nil, "", err
	}
	for _, l := range limits[a.Kind] {
		if at, ok := asNumber(a.Evidence[l.key]); ok && l.at == about.dimension {
			panel.Limits = append(panel.Limits, chart.Limit{At: read.in(at, l.at), Name: read.Say(l.name, "at", read.amount(at, l.at))})
		}
	}
	grown := slices.Clone(panel.Points)
	for _, l := range panel.Limits {
		grown = append(grown, chart.Point{Max: l.At})
	}
	panel.Scale = chart.ScaleFor(grown, read.in(about.atLeast, about.dimension), panel.Scale.Root)
	var rows [][]string
	for _, row := range read.daily(about, points, e).Rows {
		rows = append(rows, append([]string{row[0], panel.Name}, row[1:]...))
	}
	return &panel, rows, panel.Name + ": " + read.describe(about, points, nil), nil
}

// What is normal is told from so many days before an alert, unless there are
// fewer than the least.
const (
	normalDays  = 28
	normalLeast = 5
)

// normal is where the hourly means of a signal lay on four days of five in the
// weeks before, by the hour of the day.
func (s *Server) normal(ctx context.Context, read reader, h detect.Home, signal detect.Signal, onset time.Time, e extent) ([]chart.Point, error) {
	from := chart.Midnight(onset, read.loc).AddDate(0, 0, -normalDays)
	past, err := s.points(ctx, h.ID, signal, extent{from, from.Add(normalDays * 24 * time.Hour), normalDays * 24, 0})
	if err != nil {
		return nil, err
	}
	var hours [24][]float64
	for _, p := range past {
		if !math.IsNaN(p.Mean) && p.Time.Before(onset) {
			hour := p.Time.In(read.loc).Hour()
			hours[hour] = append(hours[hour], p.Mean)
		}
	}
	for i := range hours {
		if len(hours[i]) < normalLeast {
			return nil, nil
		}
		slices.Sort(hours[i])
	}
	d := signal.Dimension()
	var out []chart.Point
	for at := e.from.Truncate(time.Hour); at.Before(e.to); at = at.Add(time.Hour) {
		known := hours[at.In(read.loc).Hour()]
		out = append(out, chart.Point{Time: at, Min: read.in(known[len(known)/10], d), Max: read.in(known[len(known)-1-len(known)/10], d)})
	}
	return out, nil
}
