package chart

import (
	"encoding/xml"
	"io"
	"math"
	"strings"
	"testing"
	"time"
)

func week(t *testing.T) Axis {
	loc := dublin(t)
	from := time.Date(2026, 3, 10, 0, 0, 0, 0, loc)
	return Axis{From: from, To: from.AddDate(0, 0, 7), Location: loc}
}

func hourly(from time.Time, values ...float64) []Point {
	points := make([]Point, len(values))
	for i, v := range values {
		points[i] = Point{from.Add(time.Duration(i) * time.Hour), v / 2, v, v * 2}
	}
	return points
}

func example(t *testing.T) Picture {
	a := week(t)
	points := hourly(a.From, 1, 2, 0, 4)
	return Picture{ID: "water", Title: `Water <b>&"`, Desc: "</desc><script>", Axis: a,
		Panels: []Panel{{Name: "Flow", Unit: "L/min", Points: points, Scale: ScaleFor(points, 1, true)},
			{Name: "Level <i>", Unit: "mm", Points: points, Style: Line, Scale: ScaleFor(points, 1, false)}},
		Bands: []Band{{RegenerationBand, a.From.Add(time.Hour), a.From.Add(2 * time.Hour), ""},
			{AlertBand, a.From.AddDate(0, 0, 6), a.To.AddDate(0, 0, 1), "alert"},
			{PhaseBand, a.From, a.From.Add(time.Hour), "1"},
			{RegenerationBand, a.From.AddDate(0, 0, -9), a.From.AddDate(0, 0, -8), ""}}}
}

// elements parses the picture as XML and counts its elements by name and class.
func elements(t *testing.T, svg string) (count map[string]int, texts []string) {
	t.Helper()
	count = map[string]int{}
	d := xml.NewDecoder(strings.NewReader(svg))
	for {
		token, err := d.Token()
		if err == io.EOF {
			return count, texts
		}
		if err != nil {
			t.Fatalf("not well formed: %v\n%s", err, svg)
		}
		switch e := token.(type) {
		case xml.StartElement:
			count[e.Name.Local]++
			for _, a := range e.Attr {
				if a.Name.Local == "class" {
					count["."+a.Value]++
				}
				if a.Name.Local == "style" || strings.HasPrefix(a.Name.Local, "on") || strings.Contains(a.Value, "NaN") || strings.Contains(a.Value, "Inf") {
					t.Errorf("%s has %s=%q", e.Name.Local, a.Name.Local, a.Value)
				}
			}
		case xml.CharData:
			texts = append(texts, string(e))
		}
	}
}

func TestPictureIsWellFormedAndEscaped(t *testing.T) {
	count, texts := elements(t, example(t).SVG())
	if count["script"]+count["b"]+count["i"] > 0 {
		t.Error("a text became an element")
	}
	all := strings.Join(texts, "|")
	for _, want := range []string{`Water <b>&"`, "</desc><script>", "Level <i>, mm"} {
		if !strings.Contains(all, want) {
			t.Errorf("text %q is missing", want)
		}
	}
}

func TestPictureSpeaks(t *testing.T) {
	svg := example(t).SVG()
	for _, want := range []string{`role="img"`, `aria-labelledby="water-t water-d"`, `<title id="water-t">`, `<desc id="water-d">`} {
		if !strings.Contains(svg, want) {
			t.Errorf("no %s", want)
		}
	}
}

func TestBandsOutsideTheAxisAreLeftOut(t *testing.T) {
	count, _ := elements(t, example(t).SVG())
	if count[".band regeneration"] != 1 || count[".band alert"] != 1 || count["circle"] != 1 {
		t.Errorf("bands drawn: %v", count)
	}
}

func TestNoAlertNoHatching(t *testing.T) {
	p := example(t)
	p.Bands = nil
	if count, _ := elements(t, p.SVG()); count["pattern"] != 0 {
		t.Error("a picture without an alert carries its pattern")
	}
}

func TestACurveBreaksWhereNobodyMeasured(t *testing.T) {
	a := week(t)
	points := hourly(a.From, 1, 1, 1, 1)
	points = append(points, hourly(a.From.AddDate(0, 0, 2), 1, 1)...)
	scale := Scale{High: 2}
	if path := linePath(a, scale, points, 100); strings.Count(path, "M") != 2 {
		t.Errorf("one gap gives %q", path)
	}
	mean := func(p Point) float64 { return p.Mean }
	if path := stepPath(a, scale, points, mean, 100); strings.Count(path, "Z") != 2 {
		t.Errorf("one gap gives the area %q", path)
	}
}

func TestQuietTimeCostsNothing(t *testing.T) {
	a := week(t)
	path := stepPath(a, Scale{High: 1}, hourly(a.From, make([]float64, 168)...), func(p Point) float64 { return p.Mean }, 100)
	if len(path) > 30 {
		t.Errorf("a week of no flow takes %d bytes: %q", len(path), path)
	}
}

func TestOddPointsDrawWithoutHarm(t *testing.T) {
	a := week(t)
	for name, points := range map[string][]Point{"none": nil, "one": hourly(a.From, 3),
		"no number": {{Time: a.From, Min: math.NaN(), Mean: math.NaN(), Max: math.NaN()}, {Time: a.From.Add(time.Hour), Mean: 1, Max: 1}}} {
		p := example(t)
		p.Panels[0].Points, p.Panels[1].Points = points, points
		elements(t, p.SVG())
		elements(t, Spark([]float64{math.NaN(), 0, float64(len(points))}, name))
		elements(t, Spark(nil, name))
	}
}

func TestSparkSaysWhatItShows(t *testing.T) {
	if svg := Spark([]float64{1, 2}, `5 "L" <in all>`); !strings.Contains(svg, `aria-label="5 &#34;L&#34; &lt;in all&gt;"`) {
		t.Error(svg)
	}
}

// TestBarsSayWhatTheyAre: one bar a value, a short line where nobody measured, a
// notch where something is usual, nothing for nought.
func TestBarsSayWhatTheyAre(t *testing.T) {
	p := BarPicture{ID: "days", Title: `Days "&"`, Desc: "<b>", Every: 2, Bars: []Bar{
		{Label: "Mon", Value: 10, Usual: 8}, {Label: "Tue", Value: math.NaN(), Usual: math.NaN()}, {Label: "Wed", Value: 0, Usual: 12}, {Label: "Thu", Value: 0.001, Usual: 1, Class: "now"}}}
	count, texts := elements(t, p.SVG())
	if count[".bar "] != 1 || count[".bar unknown"] != 1 || count[".bar now"] != 1 || count[".usual"] != 3 || count["b"] != 0 {
		t.Errorf("drawn: %v", count)
	}
	if all := strings.Join(texts, "|"); !strings.Contains(all, "Mon") || strings.Contains(all, "Tue") || !strings.Contains(all, "Wed") {
		t.Errorf("labels: %q", all)
	}
}

// TestEvidenceMarks: the normal band, a limit with its name, and a moment with
// its word.
func TestEvidenceMarks(t *testing.T) {
	p := example(t)
	p.Panels[0].Normal = []Point{{Time: p.Axis.From, Min: 0, Max: 1}, {Time: p.Axis.From.AddDate(0, 0, 1), Min: 1, Max: 2}}
	p.Panels[0].Limits = []Limit{{At: 3, Name: "counts <from> 3"}}
	p.Bands = append(p.Bands, Band{MomentBand, p.Axis.From.AddDate(0, 0, 2), p.Axis.From.AddDate(0, 0, 2).Add(time.Second), "noticed"})
	count, texts := elements(t, p.SVG())
	all := strings.Join(texts, "|")
	if count[".normal"] != 1 || count[".limit"] != 1 || count[".band moment"] != 1 || !strings.Contains(all, "counts <from> 3") || !strings.Contains(all, "noticed") {
		t.Errorf("drawn: %v %q", count, all)
	}
}
