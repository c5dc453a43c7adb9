package mailpicture

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/color"
	"image/png"
	"math"
	"strings"
	"testing"
	"time"

	"brinebell/detect"
)

var noon = time.Date(2026, 3, 10, 12, 0, 0, 0, time.UTC)

// fake is a home of which some signals are measured.
type fake struct {
	units  detect.Units
	points map[detect.Signal][]Point
	fails  error
}

func (f fake) Home(id string) (detect.Home, bool) {
	h := detect.DefaultHome(id, time.UTC)
	h.Units = f.units
	return h, id == "a"
}

func (f fake) Points(_ context.Context, _ string, s detect.Signal, _, _ time.Time, _ int) ([]Point, error) {
	return f.points[s], f.fails
}

func (f fake) Now(string) time.Time { return noon }

func leak() detect.Alert {
	return detect.Alert{ID: "x", Home: "a", Kind: detect.NightLeak, Onset: noon.Add(-48 * time.Hour), Raised: noon.Add(-time.Hour)}
}

// steps is a signal that stands at one value, then at another.
func steps(low, high float64) (out []Point) {
	for i := range 200 {
		v := low
		if i >= 100 {
			v = high
		}
		out = append(out, Point{noon.Add(time.Duration(i-200) * 30 * time.Minute), v, v, v})
	}
	return out
}

func TestPictureShowsTheCurveAndTheTrouble(t *testing.T) {
	b, says, err := Painter{fake{points: map[detect.Signal][]Point{detect.InletFlow: steps(0, 1)}}}.Evidence(context.Background(), leak())
	if err != nil {
		t.Fatal(err)
	}
	picture, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	if size := picture.Bounds(); size.Dx() != 960 || size.Dy() != 390 || len(b) > 60_000 {
		t.Errorf("%v, %d bytes", size, len(b))
	}
	// The first half of the curve lies at the bottom, the second near the top.
	left, right := rows(picture, ink, 0.30), rows(picture, ink, 0.80)
	if left <= right+100 {
		t.Errorf("the curve is at rows %d and %d, want it to rise", left, right)
	}
	if rows(picture, trouble, 0.80) < 0 || rows(picture, trouble, 0.15) >= 0 {
		t.Error("the trouble is not shaded, or is from the beginning")
	}
	for _, want := range []string{"Water into the house", "at most 1 L/min", "8 March 12:00"} {
		if !strings.Contains(says, want) {
			t.Errorf("%q lacks %q", says, want)
		}
	}
}

// rows is the first row in which a column has a colour; -1 when it has not.
func rows(m image.Image, c color.RGBA, at float64) int {
	x := int(at * float64(m.Bounds().Dx()))
	for y := range m.Bounds().Dy() {
		r, g, b, _ := m.At(x, y).RGBA()
		if near(r, c.R) && near(g, c.G) && near(b, c.B) {
			return y
		}
	}
	return -1
}

func near(got uint32, want uint8) bool { return math.Abs(float64(got>>8)-float64(want)) < 12 }

// Ticks are the home's own midnights, also where the clocks change: on 29 March
// 2026 Dublin's went from 01:00 to 02:00 (IANA time zone database).
func TestTicksAreLocal(t *testing.T) {
	dublin, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		t.Fatal(err)
	}
	from := time.Date(2026, 3, 28, 6, 0, 0, 0, dublin)
	got := ticks{dublin}.Ticks(float64(from.Unix()), float64(from.AddDate(0, 0, 3).Unix()))
	var labels []string
	for _, tick := range got {
		labels = append(labels, tick.Label)
		if at := time.Unix(int64(tick.Value), 0).In(dublin); at.Hour() != 0 || at.Minute() != 0 {
			t.Errorf("a tick at %s", at)
		}
	}
	if strings.Join(labels, " ") != "29 Mar 30 Mar 31 Mar" {
		t.Errorf("%v", labels)
	}
	if got := (ticks{dublin}).Ticks(float64(from.Unix()), float64(from.Add(12*time.Hour).Unix())); len(got) != 5 || got[0].Label != "06:00" || got[4].Label != "18:00" {
		t.Errorf("%v of half a day, want one each three hours", got)
	}
}

func TestFlowOfATotal(t *testing.T) {
	at := func(minute int, v float64) Point {
		return Point{noon.Add(time.Duration(minute) * time.Minute), v, v, v}
	}
	got := flows([]Point{at(0, 100), at(10, 130), at(20, 5), at(30, 5)})
	if len(got) != 2 || got[0].Mean != 3 || got[1].Mean != 0 {
		t.Errorf("%+v, want 3 L/min, nothing where it was set back, and 0", got)
	}
}

func TestNoPictureIsNoError(t *testing.T) {
	for name, a := range map[string]detect.Alert{"no readings": leak(), "no such home": {Home: "b", Kind: detect.NightLeak}, "no signal": {Home: "a", Kind: detect.SensorSilent}} {
		if b, _, err := (Painter{fake{}}).Evidence(context.Background(), a); b != nil || err != nil {
			t.Errorf("%s: %d bytes, %v", name, len(b), err)
		}
	}
	broken := errors.New("broken")
	if _, _, err := (Painter{fake{fails: broken}}).Evidence(context.Background(), leak()); !errors.Is(err, broken) {
		t.Errorf("%v", err)
	}
}

// 1 gpm is 3.785 L/min (NIST SP 811, appendix B.8).
func TestHouseholdsUnits(t *testing.T) {
	_, says, err := Painter{fake{units: detect.US, points: map[detect.Signal][]Point{detect.InletFlow: steps(0, 3.785411784)}}}.Evidence(context.Background(), leak())
	if err != nil || !strings.Contains(says, "at most 1 gpm") {
		t.Errorf("%q %v", says, err)
	}
	for d, unit := range us {
		if _, err := detect.FromCanonical(1, unit, d); err != nil {
			t.Error(err)
		}
	}
}

func TestEverySignalHasAName(t *testing.T) {
	for _, k := range detect.Kinds() {
		for _, s := range telling(detect.Alert{Kind: k}) {
			if names[s] == "" {
				t.Errorf("%s has no name", s)
			}
		}
	}
}
