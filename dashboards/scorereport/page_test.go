package scorereport

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/score"
)

var noon = time.Date(2026, 3, 10, 12, 0, 0, 0, time.UTC)

// town is a home where a cistern leaked and was found, and one where worn seals
// were missed and a burst was made up.
func town() score.Input {
	span := func(c detect.Cause, home string, severity float64) score.Episode {
		return score.Episode{Home: home, Fault: c, Start: noon, End: noon.AddDate(0, 0, 20), Severity: severity}
	}
	raised := func(id, home string, k detect.Kind) detect.Alert {
		return detect.Alert{ID: id, Home: home, Kind: k, Severity: detect.ActNow, Raised: noon.Add(30 * time.Hour),
			Causes: []detect.CauseShare{{Cause: detect.FlapperLeak, Probability: 0.7}}}
	}
	return score.Input{
		Episodes:  []score.Episode{span(detect.FlapperLeak, "a", 0.4), span(detect.SealsWorn, "<b>", 0.3)},
		Alerts:    []detect.Alert{raised("1", "a", detect.NightLeak), raised("2", "<b>", detect.Burst)},
		Exposures: []score.Exposure{{Home: "a", From: noon, To: noon.AddDate(0, 0, 60)}, {Home: "<b>", From: noon, To: noon.AddDate(0, 0, 60)}},
	}
}

func page(t *testing.T, p Page) string {
	t.Helper()
	var b bytes.Buffer
	if err := p.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestPageSaysAndShowsTheScore(t *testing.T) {
	r := score.New(town())
	before := score.New(score.Input{Episodes: town().Episodes, Exposures: town().Exposures})
	c := score.Compare(before, r)
	text := page(t, Page{Title: "A <small> town", Report: r, Change: &c})
	for _, want := range []string{"A &lt;small&gt; town", "1 of 2 faults found", "Found now", "False alarms that came", "flapper leak", "seals worn", "missed", "Calibration error"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if n := strings.Count(text, `role="img"`); n != 2+1+1+2 {
		t.Errorf("%d pictures, want a strip for each fault, delays, alarms and two of reliability", n)
	}
	if strings.Contains(text, "<small>") || strings.Contains(text, "<b>:") {
		t.Error("text of the data is not escaped")
	}
}

// One file, nothing from elsewhere, no script.
func TestPageNeedsNothingBesideIt(t *testing.T) {
	text := page(t, Page{Title: "t", Report: score.New(town())})
	for _, bad := range []string{"http://", "https://", "<script", "<link", "src=", "@import", "url("} {
		if strings.Contains(text, bad) {
			t.Errorf("the page holds %q", bad)
		}
	}
}

func TestEveryPictureIsWellFormedAndNamed(t *testing.T) {
	text := page(t, Page{Title: "t", Report: score.New(town())})
	pictures := regexp.MustCompile(`(?s)<svg viewBox="0 0.*?</svg>`).FindAllString(text, -1)
	if len(pictures) == 0 {
		t.Fatal("no pictures")
	}
	for _, p := range pictures {
		d := xml.NewDecoder(strings.NewReader(p))
		for {
			if _, err := d.Token(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				t.Fatalf("%v in %s", err, p)
			}
		}
		if !regexp.MustCompile(`aria-label="[^"]{10,}"`).MatchString(p) || strings.Contains(p, "NaN") || strings.Contains(p, "Inf") {
			t.Errorf("%.200s", p)
		}
	}
}

// Nothing watched, nothing wrong, nothing said: still a page.
func TestEmptyScore(t *testing.T) {
	text := page(t, Page{Title: "nothing", Report: score.New(score.Input{})})
	if !strings.Contains(text, "No fault that could be found") || strings.Contains(text, "NaN") {
		t.Error(text)
	}
}

func TestLogarithmicAxis(t *testing.T) {
	for hours, want := range map[float64]float64{0: 0, 1: 0, 10: 0.5, 100: 1, 1000: 1} {
		if got := logarithm(hours, 1, 100); math.Abs(got-want) > 1e-12 {
			t.Errorf("%v h at %v, want %v", hours, got, want)
		}
	}
}

// Words keep the contrast of 4.5 that WCAG 2.2 asks for (1.4.3), marks that
// carry meaning that of 3 (1.4.11), on both grounds and in both schemes.
func TestContrast(t *testing.T) {
	light, dark, found := strings.Cut(pageCSS, "@media (prefers-color-scheme: dark)")
	if !found {
		t.Fatal("no dark scheme")
	}
	dark, _, _ = strings.Cut(dark, "\n")
	for scheme, css := range map[string]string{"light": light, "dark": dark} {
		for _, ground := range []string{"chalk", "shell"} {
			for name, least := range map[string]float64{"slate": 4.5, "silt": 4.5, "brine": 3, "halite": 3, "amber": 3} {
				if c := contrast(t, css, name, ground); c < least {
					t.Errorf("%s: %s on %s has %.2f", scheme, name, ground, c)
				}
			}
		}
	}
}

func contrast(t *testing.T, css, a, b string) float64 {
	x, y := luminance(t, css, a), luminance(t, css, b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// luminance is the relative luminance of WCAG 2.2.
func luminance(t *testing.T, css, name string) float64 {
	m := regexp.MustCompile(`--` + name + `: #([0-9a-f]{6});`).FindStringSubmatch(css)
	if m == nil {
		t.Fatalf("no colour %s", name)
	}
	v, err := strconv.ParseUint(m[1], 16, 32)
	if err != nil {
		t.Fatal(err)
	}
	linear := func(shift uint) float64 {
		c := float64(v>>shift&255) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*linear(16) + 0.7152*linear(8) + 0.0722*linear(0)
}

// A score without a single alert says so in place of an empty section.
func TestNothingToBeSureOf(t *testing.T) {
	in := town()
	in.Alerts = nil
	if text := page(t, Page{Title: "quiet", Report: score.New(in)}); !strings.Contains(text, "No alert named a cause.") {
		t.Error("the section on probabilities is empty")
	}
}
