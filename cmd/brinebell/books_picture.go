package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"time"

	"brinebell/collector/recording"
	"brinebell/dashboards/web/chart"
	"brinebell/detect"
	"brinebell/detect/series"
)

// pictureMargin is how much of the time around a regeneration is drawn, and
// pictureLead how much longer the readings are taken in, so that a meter's total
// has a reading before.
const (
	pictureMargin = 20 * time.Minute
	pictureLead   = 30 * time.Minute
)

// draw draws the regeneration that the flags name.
func (a *account) draw(ctx context.Context, s streams, f booksFlags, source readings) error {
	r, err := a.at(f.at)
	if err != nil {
		return inputError{err}
	}
	minutes, err := readMinutes(ctx, source, r.record.Start.Add(-pictureMargin), r.record.End.Add(pictureMargin))
	if err != nil {
		return asInputError(err)
	}
	text, err := a.picture(r, minutes)
	if err != nil {
		return err
	}
	if err := os.WriteFile(f.picture, []byte(text), 0o644); err != nil { // #nosec G306 -- meant to be read by others: nothing secret is in it
		return inputError{err}
	}
	_, err = fmt.Fprintf(s.out, "%s: the regeneration that began %s\n", f.picture, a.moment(r.record.Start))
	return err
}

// at is the regeneration of a day or nearest a time of the home's clock, or the
// newest.
func (a *account) at(when string) (*bookedRegeneration, error) {
	if len(a.regenerations) == 0 {
		return nil, errors.New("no regeneration was seen: there is nothing to draw")
	}
	if when == "" {
		return &a.regenerations[len(a.regenerations)-1], nil
	}
	day, err := time.ParseInLocation(time.DateOnly, when, a.home.Location)
	if err == nil {
		for i := range a.regenerations {
			if a.day(a.regenerations[i].record.Start) == a.day(day) {
				return &a.regenerations[i], nil
			}
		}
		return nil, fmt.Errorf("--at %s: no regeneration began that day", when)
	}
	t, err := parseMoment(when, a.home.Location)
	if err != nil {
		return nil, err
	}
	near := slices.MinFunc(a.regenerations, func(x, y bookedRegeneration) int {
		return cmp.Compare(x.record.Start.Sub(t).Abs(), y.record.Start.Sub(t).Abs())
	})
	const farthest = 12 * time.Hour
	if near.record.Start.Sub(t).Abs() > farthest {
		return nil, fmt.Errorf("--at %s: no regeneration began within %.0f hours; the nearest began %s", when, farthest.Hours(), a.moment(near.record.Start))
	}
	return &near, nil
}

// parseMoment reads RFC 3339, or a time of the home's clock.
func parseMoment(text string, home *time.Location) (time.Time, error) {
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t, nil
	}
	for _, layout := range []string{"2006-01-02 15:04", "2006-01-02T15:04", time.DateTime} {
		if t, err := time.ParseInLocation(layout, text, home); err == nil {
			return t, nil
		}
	}
	return time.Time{}, fmt.Errorf("--at %q is no day or time, as in 2025-03-09 or \"2025-03-09 02:00\"", text)
}

// recordedReadings goes through the recordings once more.
func recordedReadings(files []string, home string) readings {
	return func(ctx context.Context, from, to time.Time) (all []detect.Reading, err error) {
		for _, path := range files {
			if err := pick(ctx, path, &all, func(r *detect.Reading) bool { return r.Home == home && !r.Time.Before(from) && r.Time.Before(to) }); err != nil {
				return nil, err
			}
		}
		slices.SortStableFunc(all, func(a, b detect.Reading) int { return a.Time.Compare(b.Time) })
		return all, nil
	}
}

// readMinutes are a home's minutes of a span of time.
func readMinutes(ctx context.Context, source readings, from, to time.Time) ([]series.Minute, error) {
	all, err := source(ctx, from.Add(-pictureLead), to.Add(pictureLead))
	if err != nil {
		return nil, err
	}
	var assembler series.Assembler
	var minute series.Minute
	var out []series.Minute
	keep := func() {
		if !minute.Start.Before(from) && minute.Start.Before(to) {
			out = append(out, minute)
		}
	}
	for _, r := range all {
		for assembler.Next(r.Time.UnixMilli(), &minute) {
			keep()
		}
		assembler.Take(r.Signal, r.Time.UnixMilli(), r.Value)
	}
	for assembler.Finish(&minute) {
		keep()
	}
	return out, nil
}

// pick appends the readings of a file that are wanted.
func pick(ctx context.Context, path string, to *[]detect.Reading, wanted func(*detect.Reading) bool) error {
	f, err := recording.Open(path, recording.Options{})
	if err != nil {
		return err
	}
	for n := 0; ; n++ {
		r, err := f.Next()
		if errors.Is(err, io.EOF) {
			return f.Close()
		}
		if err == nil && n%progressEvery == 0 {
			err = ctx.Err()
		}
		if err != nil {
			return errors.Join(err, f.Close())
		}
		if r.Check() == nil && wanted(&r) {
			*to = append(*to, r)
		}
	}
}

// pictured are the signals of the picture, from above.
var pictured = []struct {
	signal    detect.Signal
	name      string
	dimension detect.Dimension
	style     chart.Style
	atLeast   float64 // canonical: the least height of its scale
}{
	{detect.DrainFlow, "Water to the drain", detect.FlowRate, chart.Layers, 2},
	{detect.BrineLevel, "Liquid in the brine tank", detect.Length, chart.Line, 100},
}

// picture is the regeneration as an SVG document of its own.
func (a *account) picture(r *bookedRegeneration, minutes []series.Minute) (string, error) {
	rec := &r.record
	p := chart.Picture{ID: "regeneration", Title: a.home.Name + ": regeneration of " + a.moment(rec.Start), Desc: r.story() + ".",
		Axis: chart.Axis{From: rec.Start.Add(-pictureMargin), To: rec.End.Add(pictureMargin), Location: a.home.Location, TwelveHour: a.home.Units == detect.US}}
	for i, phase := range rec.Phases {
		p.Bands = append(p.Bands, chart.Band{Kind: chart.PhaseBand, From: phase.Start, To: phase.Start.Add(phase.Duration), Label: strconv.Itoa(i + 1)})
	}
	for _, about := range pictured {
		unit := screenUnits[a.home.Units][about.dimension]
		var points []chart.Point
		for i := range minutes {
			v, ok := minutes[i].Get(about.signal)
			if !ok {
				continue
			}
			v, err := detect.FromCanonical(v, unit, about.dimension)
			if err != nil {
				return "", err
			}
			points = append(points, chart.Point{Time: minutes[i].Start, Min: v, Mean: v, Max: v})
		}
		if len(points) == 0 {
			continue
		}
		least, err := detect.FromCanonical(about.atLeast, unit, about.dimension)
		if err != nil {
			return "", err
		}
		p.Panels = append(p.Panels, chart.Panel{Name: about.name, Unit: unit, Points: points, Style: about.style, Scale: chart.ScaleFor(points, least, false)})
	}
	if len(p.Panels) == 0 {
		return "", inputError{errors.New("neither the drain line nor the brine tank was measured then: there is nothing to draw")}
	}
	return frame(p, rec.Phases), nil
}
