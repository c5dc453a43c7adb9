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
	for _, f := range readerOf(home).books(b) {
		if !strings.Contains(f.Value, "Not known") || strings.Contains(f.Value, "0") {
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
			for _, fact := range readerOf(h).books(b) {
				got[fact.Name] = strings.ReplaceAll(fact.Value, "\u00a0", " ")
			}
		}
	}
	// 1240 L / 3.785411784 = 327.6 gal; 34 kg / 0.45359237 = 74.96 lb: the factors
	// are exact by definition (NIST SP 811, appendix B).
	for name, want := range map[string]string{
		"Soft water left":                   "About 328 gal until",
		"Next regeneration":                 "Expected Fri Mar 20, 9:20 am, when the capacity",
		"Salt in the tank":                  "About 75 lb, by the sensor over it, give or take 5.51 lb",
		"Salt lasts until":                  "Sun Apr 12; four times out of five between Mon Apr 6 and Mon Apr 20",
		"Salt that the water used explains": "93 % of the 17.9 lb",
	} {
		if !strings.Contains(got[name], want) {
			t.Errorf("%s: %q, want %q in it", name, got[name], want)
		}
	}
}

func TestForecastBeyondTheHorizon(t *testing.T) {
	r := reader{detect.Metric, time.UTC}
	if got := r.saltLasts(books.Forecast{OK: true}, fakeNow); got != "Longer than can be foreseen" {
		t.Error(got)
	}
	got := r.saltLasts(books.Forecast{OK: true, Expected: fakeNow.AddDate(0, 0, 20), Early: fakeNow.AddDate(2, 0, 0)}, fakeNow)
	if strings.Contains(got, "0001") || strings.ReplaceAll(got, "\u00a0", " ") != "Mon 6 Apr; nine times out of ten after Fri 17 Mar 2028" {
		t.Error(got)
	}
}

func TestNoSoftWaterLeft(t *testing.T) {
	b, _ := newFakeTown().Books(t.Context(), "mill-lane-4")
	b.Bed.LeftLitres = 0
	if got := (reader{detect.Metric, time.UTC}).softLeft(b); !strings.Contains(got, "None") {
		t.Error(got)
	}
}

// Every reason that the books can give has words of its own.
func TestEveryReasonHasWords(t *testing.T) {
	all := []books.Reason{books.BrineNone, books.BrineLow, books.BrineHigh, books.BrineOffProgramme, books.RefillNone, books.RefillLow, books.RefillHigh,
		books.RefillOffProgramme, books.DrainNone, books.DrainLow, books.DrainHigh, books.DrainOffProgramme, books.PhaseMissing, books.CutShort,
		books.NeverEnded, books.OffHour, books.LevelLower, books.LevelHigher}
	var said []string
	for _, why := range all {
		words := sayReason(why)
		if strings.Contains(words, "_") || slices.Contains(said, words) {
			t.Errorf("%s: %q", why, words)
		}
		said = append(said, words)
	}
	if got := sayReason("quite_new"); got != "quite new" {
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
	says(t, s, "/homes/mill-lane-4", "The books", "Soft water left", "About 1,240 L until the resin is used up", "Salt lasts until", "four times out of five", "The last days")
	says(t, s, "/homes/lime-kiln-cottage", "The books", "Not known until a regeneration is seen.", "Not known", "Not known: no sensor hangs over the salt", "Not known", "Not known")
	if page := text(get(t, s, "/homes/harbour-view-1").Body.String()); strings.Contains(page, "The books") {
		t.Error("books of a home that has said nothing")
	}
	says(t, s, "/homes/mill-lane-4/regenerations", "Brine drawn", "Salt", "How it went", " kg ", "Ran to its end; less brine than usual; no refill")
	if page := text(get(t, s, "/homes/lime-kiln-cottage/regenerations").Body.String()); !strings.Contains(page, noNumber) {
		t.Error("salt that nobody booked is not said to be unknown")
	}
}
