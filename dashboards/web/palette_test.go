package web

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// palette reads the custom colours of one scheme from the style sheet as it is
// served; the dark scheme's stand in its media query.
func palette(t *testing.T, scheme string) map[string]string {
	t.Helper()
	sheet, err := staticFiles.ReadFile("static/style.css")
	if err != nil {
		t.Fatal(err)
	}
	light, dark, found := strings.Cut(string(sheet), "@media (prefers-color-scheme: dark)")
	if !found {
		t.Fatal("the style sheet has no dark scheme")
	}
	text := light
	if scheme == "dark" {
		text, _, _ = strings.Cut(dark, "* {")
	}
	colours := make(map[string]string)
	for _, m := range regexp.MustCompile(`--([a-z-]+): #([0-9a-f]{6});`).FindAllStringSubmatch(text, -1) {
		colours[m[1]] = m[2]
	}
	return colours
}

func channels(t *testing.T, hex string) [3]float64 {
	t.Helper()
	n, err := strconv.ParseUint(hex, 16, 32)
	if err != nil {
		t.Fatalf("colour %q: %v", hex, err)
	}
	return [3]float64{float64(n >> 16 & 255), float64(n >> 8 & 255), float64(n & 255)}
}

func schemeBackground(t *testing.T, scheme string) string {
	c := channels(t, palette(t, scheme)["chalk"])
	return fmt.Sprintf("rgb(%.0f, %.0f, %.0f)", c[0], c[1], c[2])
}

// luminance is the relative luminance of WCAG 2.2, section "relative luminance".
func luminance(t *testing.T, hex string) float64 {
	var linear [3]float64
	for i, c := range channels(t, hex) {
		c /= 255
		if c <= 0.04045 {
			linear[i] = c / 12.92
		} else {
			linear[i] = math.Pow((c+0.055)/1.055, 2.4)
		}
	}
	return 0.2126*linear[0] + 0.7152*linear[1] + 0.0722*linear[2]
}

// contrast is the contrast ratio of WCAG 2.2, section "contrast ratio".
func contrast(t *testing.T, a, b string) float64 {
	x, y := luminance(t, a), luminance(t, b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// TestContrastFormula: black on white is 21:1 by definition; #767676 on white is
// the grey that WebAIM's contrast checker gives as 4.54:1 (from memory).
func TestContrastFormula(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want float64
	}{{"000000", "ffffff", 21}, {"767676", "ffffff", 4.54}, {"808080", "808080", 1}} {
		if got := contrast(t, c.a, c.b); math.Abs(got-c.want) > 0.005 {
			t.Errorf("contrast of %s and %s is %.3f, want %.2f", c.a, c.b, got, c.want)
		}
	}
}

// TestPalette holds the pairs that carry meaning to WCAG 2.2: 4.5:1 for text
// (success criterion 1.4.3), 3:1 for curves and marks (1.4.11).
func TestPalette(t *testing.T) {
	type pair struct {
		front, back string
		least       float64
	}
	const text, graphic = 4.5, 3
	pairs := []pair{
		{"slate", "chalk", text}, {"slate", "shell", text}, {"silt", "chalk", text}, {"silt", "shell", text},
		{"brine", "chalk", text}, {"brine", "shell", text}, {"shell", "halite", text}, {"halite", "shell", text}, {"halite", "chalk", text},
		{"amber", "amber-pale", text}, {"slate", "amber-pale", text}, {"amber", "chalk", text}, {"kelp", "kelp-pale", text}, {"kelp", "chalk", text},
		{"dusk", "shell", text}, {"dusk", "chalk", text}, {"slate", "spray", text}, {"slate", "dusk-pale", text},
		{"shallow", "shell", graphic}, {"brine", "spray", graphic}, {"brine", "dusk-pale", graphic}, {"brine", "amber-pale", graphic}, {"dusk", "dusk-pale", graphic},
	}
	for _, scheme := range []string{"light", "dark"} {
		colours := palette(t, scheme)
		for _, p := range pairs {
			if colours[p.front] == "" || colours[p.back] == "" {
				t.Errorf("%s: no colour %s or %s", scheme, p.front, p.back)
				continue
			}
			if got := contrast(t, colours[p.front], colours[p.back]); got < p.least {
				t.Errorf("%s: %s on %s is %.2f:1, want %.1f:1", scheme, p.front, p.back, got, p.least)
			}
		}
	}
}
