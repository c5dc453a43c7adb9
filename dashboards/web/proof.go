package web

import (
	"context"
	"html/template"
	"math"
	"slices"
	"time"

	"brinebell/dashboards/web/chart"
	"brinebell/detect"
	"brinebell/detect/care"
)

// proofView sets the days before a repair beside those after it.
type proofView struct {
	Sentence string
	Picture  pictureView
	Rows     [][]string // what, before, after
}

// proofDays is how many days before and after a repair are compared.
const proofDays = 7

// proof is nil for a case without a repair.
func (s *Server) proof(ctx context.Context, h detect.Home, c Case, lead detect.Alert) (*proofView, error) {
	i := slices.IndexFunc(c.Steps, func(step care.Step) bool { return step.Act == care.Repair })
	if i < 0 {
		return nil, nil
	}
	read, at, now := askerOf(ctx).reads(h), c.Steps[i].At, s.Source.Now(h.ID)
	if later(now, at) == at || now.Sub(at) < time.Hour {
		return &proofView{Sentence: read.Say("proof.early", "when", read.moment(at))}, nil
	}
	v := &proofView{Sentence: read.Say("proof.sentence", "when", read.moment(at), "n", proofDays)}
	e := extent{at.AddDate(0, 0, -proofDays), at.AddDate(0, 0, proofDays), pictureParts, 0}
	if e.to.After(now) {
		e.to = now.Add(time.Second)
	}
	var err error
	if v.Picture, err = s.proofPicture(ctx, read, h, lead, at, e); err != nil {
		return nil, err
	}
	v.Rows, err = s.proofRows(ctx, read, h, at, extent{later(e.from, lead.Onset), e.to, 1, 0}) // before means while it was wrong
	return v, err
}

func (s *Server) proofPicture(ctx context.Context, read reader, h detect.Home, lead detect.Alert, at time.Time, e extent) (pictureView, error) {
	v := pictureView{ID: "proof", Title: read.Say("proof.picture"), Missing: read.Say("evidence.missing")}
	records, err := s.Source.Regenerations(ctx, h.ID, e.from, e.to)
	if err != nil {
		return v, err
	}
	bands := append(regenerationBands(records), chart.Band{Kind: chart.MomentBand, From: at, To: at.Add(time.Second), Label: read.Say("mark.repaired")})
	for _, signal := range evidenceSignals(lead) {
		points, err := s.points(ctx, h.ID, signal, e)
		if err != nil {
			return v, err
		}
		if len(points) > 0 {
			about := subjects[signal]
			v.Title, v.Unit, v.Missing = read.Say(about.title), read.unit(about.dimension), ""
			v.SVG = template.HTML(chart.Picture{ID: "picture-proof", Title: v.Title, Desc: read.describe(about, points, bands), Axis: read.axis(e), // #nosec G203 -- chart escapes every text
				Panels: []chart.Panel{read.panel(about, points, about.dimension == detect.FlowRate)}, Bands: bands}.SVG())
			v.Marks, v.Table = marksOf(bands, e), read.daily(about, points, e)
			break
		}
	}
	return v, nil
}

// proofRows are figures of both spans, a day or a regeneration each.
func (s *Server) proofRows(ctx context.Context, read reader, h detect.Home, at time.Time, e extent) ([][]string, error) {
	before, err := s.figures(ctx, read, h, e.from, at)
	if err != nil {
		return nil, err
	}
	after, err := s.figures(ctx, read, h, at, e.to)
	if err != nil {
		return nil, err
	}
	var rows [][]string
	for _, row := range []struct {
		key string
		d   detect.Dimension
		of  func(spanFigures) float64
	}{
		{"proof.water", detect.Volume, func(f spanFigures) float64 { return f.water }},
		{"proof.night", detect.Volume, func(f spanFigures) float64 { return f.night }},
		{"proof.drain", detect.Volume, func(f spanFigures) float64 { return f.drain }},
		{"proof.brine", detect.Volume, func(f spanFigures) float64 { return f.brine }},
	} {
		if b, a := row.of(before), row.of(after); !math.IsNaN(b) || !math.IsNaN(a) {
			rows = append(rows, []string{read.Say(row.key), read.amount(b, row.d), read.amount(a, row.d)})
		}
	}
	return rows, nil
}

// spanFigures are a span's water and drain a day, its median night's quietest
// hour and its mean brine a regeneration, L; NaN where nobody measured.
type spanFigures struct{ water, night, drain, brine float64 }

func (s *Server) figures(ctx context.Context, read reader, h detect.Home, from, to time.Time) (spanFigures, error) {
	f := spanFigures{math.NaN(), math.NaN(), math.NaN(), math.NaN()}
	days, err := s.readHours(ctx, h, read, from, to)
	if err != nil {
		return f, err
	}
	length := to.Sub(from).Hours() / 24
	var nights []float64
	for _, d := range days {
		if _, least := d.night(); !math.IsNaN(least) {
			nights = append(nights, least)
		}
		for _, l := range d {
			if !math.IsNaN(l) {
				f.water = nought(f.water) + l/length
			}
		}
	}
	if slices.Sort(nights); len(nights) > 0 {
		f.night = nights[len(nights)/2]
	}
	hours := max(1, int(to.Sub(from).Hours()))
	drain, err := s.points(ctx, h.ID, detect.DrainFlow, extent{from, to, hours, 0})
	if err != nil {
		return f, err
	}
	if len(drain) > 0 {
		f.drain = litres(drain, to.Sub(from)/time.Duration(hours)) / length
	}
	records, err := s.Source.Regenerations(ctx, h.ID, from, to)
	n := 0.0
	for _, rec := range records {
		if !math.IsNaN(rec.BrineLitres) {
			f.brine, n = nought(f.brine)+rec.BrineLitres, n+1
		}
	}
	f.brine /= max(1, n)
	return f, err
}
