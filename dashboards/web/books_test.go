package web

import (
	"slices"
	"strings"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
)

// What nobody knows is said to be unknown, and never as a nought.
func TestUnknownBooksAreSaidToBeUnknown(t *testing.T) {
	home := detect.DefaultHome("a", time.UTC)
	b := books.New(&home).View() // of which nothing has been seen
	r := readerOf(home)
	for _, g := range []gauge{r.soft(b), r.salt(b), r.today(b)} {
		if g.Value != "Not known" || g.Known || g.Note == "" {
			t.Errorf("%s: %+v", g.Name, g)
		}
	}
	for _, f := range r.account(b) {
		if !strings.Contains(f.Value, "Not known") {
			t.Errorf("%s: %q", f.Name, f.Value)
		}
	}
}

func TestBooksInTheHouseholdsUnits(t *testing.T) {
	f := newFakeTown()
	b, _ := f.Books(t.Context(), "quarry-road-11")
	got := map[string]string{}
	for _, h := range f.homes {
		if h.ID == "quarry-road-11" {
			r := readerOf(h)
			for _, g := range []gauge{r.soft(b), r.salt(b), r.today(b)} {
				got[g.Name] = unspaced(g.Value + " " + g.Note + " " + g.More)
			}
			got["buy"] = unspaced(r.buy(b))
		}
	}
	// 1240 L / 3.785411784 = 327.6 gal; 34 kg / 0.45359237 = 74.96 lb: the factors
	// are exact by definition (NIST SP 811, appendix B). Room for 41 kg is 90.4 lb,
	// two bags of 40 lb.
	for name, want := range map[string]string{
		"Soft water left":  "328 gal",
		"Salt in the tank": "75 lb By the sensor over it, give or take 5.51 lb. It runs out about Sun Apr 12; four times out of five between Mon Apr 6 and Mon Apr 20.",
		"buy":              "Buy 2 bags of 40 lb: the tank has room for 90 lb.",
	} {
		if !strings.Contains(got[name], want) {
			t.Errorf("%s: %q, want %q in it", name, got[name], want)
		}
	}
}

func TestForecastBeyondTheHorizon(t *testing.T) {
	r := inUnits(detect.Metric)
	if got := r.saltLasts(books.Forecast{OK: true}, fakeNow); got != "It lasts longer than can be foreseen." {
		t.Error(got)
	}
	got := r.saltLasts(books.Forecast{OK: true, Expected: fakeNow.AddDate(0, 0, 20), Early: fakeNow.AddDate(2, 0, 0)}, fakeNow)
	if strings.Contains(got, "0001") || strings.ReplaceAll(got, "\u00a0", " ") != "It runs out about Mon 6 Apr; nine times out of ten after Fri 17 Mar 2028." {
		t.Error(got)
	}
}

func TestNoSoftWaterLeft(t *testing.T) {
	b, _ := newFakeTown().Books(t.Context(), "mill-lane-4")
	b.Bed.LeftLitres = 0
	if g := inUnits(detect.Metric).soft(b); !strings.Contains(g.Note, "None") || !g.Low || g.Share != 0 {
		t.Errorf("%+v", g)
	}
}

// Every reason that the books can give has words of its own.
func TestEveryReasonHasWords(t *testing.T) {
	all := []books.Reason{books.BrineNone, books.BrineLow, books.BrineHigh, books.BrineOffProgramme, books.RefillNone, books.RefillLow, books.RefillHigh,
		books.RefillOffProgramme, books.DrainNone, books.DrainLow, books.DrainHigh, books.DrainOffProgramme, books.PhaseMissing, books.CutShort,
		books.NeverEnded, books.OffHour, books.LevelLower, books.LevelHigher}
	var said []string
	for _, why := range all {
		words := inUnits(detect.Metric).Say("reason." + string(why))
		if strings.Contains(words, "_") || slices.Contains(said, words) {
			t.Errorf("%s: %q", why, words)
		}
		said = append(said, words)
	}
	if got := Reasons(books.Entry{Reasons: []books.Reason{"quite_new"}}); !slices.Equal(got, []string{"quite new"}) {
		t.Error(got)
	}
}

func TestAReasonIsSaidOnce(t *testing.T) {
	e := books.Entry{Reasons: []books.Reason{books.CutShort, books.PhaseMissing, books.BrineNone, books.RefillNone}, Missing: []detect.Phase{detect.FastRinse, detect.Refill, detect.BrineDraw}}
	if got := strings.Join(Reasons(e), "; "); got != "no fast rinse; no brine was drawn; no refill" {
		t.Error(got)
	}
}

func TestPagesShowTheBooks(t *testing.T) {
	s := newServer(t, newFakeTown())
	says(t, s, "/homes/mill-lane-4", "Soft water left", "1,240 L", "48 % of what the last regeneration gave", "Next regeneration Fri 20 Mar, 15:20", "Salt in the tank", "34 kg",
		"four times out of five", "Buy 1 bag of 25 kg", "Water today", "Softened water by day", "The last 7 days", "The books", "93 % of the 8.1 kg")
	says(t, s, "/homes/lime-kiln-cottage", "Not known", "Known once a regeneration is seen.", "Not known", "No sensor hangs over the salt", "The books", "Not known yet: it takes two whole cycles.")
	if page := text(get(t, s, "/homes/harbour-view-1").Body.String()); strings.Contains(page, "The books") {
		t.Error("books of a home that has said nothing")
	}
	says(t, s, "/homes/mill-lane-4/regenerations", "Brine drawn", "Salt", "How it went", " kg ", "Ran to its end; less brine than usual; no refill")
	if page := text(get(t, s, "/homes/lime-kiln-cottage/regenerations").Body.String()); !strings.Contains(page, "not measured") {
		t.Error("salt that nobody booked is not said to be unknown")
	}
}
