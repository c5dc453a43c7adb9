package replay

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"sort"
	"strings"
	"testing"
	"time"

	"brinebell/collector/recording"
	"brinebell/detect"
	"brinebell/detect/books"
)

const (
	realHomes = "../../testdata/real/homes.yaml"
	apartment = "../../testdata/real/apartment.csv.gz"
	sprinkler = "../../testdata/real/sprinkler-house.csv.gz"
)

func homes(t testing.TB) []detect.Home {
	t.Helper()
	f, err := os.Open(realHomes)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	h, err := detect.ReadHomes(realHomes, f)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// leaky is a small recording of two homes: quiet nights, then one home's water
// never stops.
func leaky(t testing.TB) []string {
	t.Helper()
	start := time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC)
	lines := []string{}
	for m := range 10 * 1440 {
		at := start.Add(time.Duration(m) * time.Minute)
		use := 0.0
		if h := at.Hour(); h >= 6 && h < 22 && m%40 < 3 {
			use = 6
		}
		leak := 0.0
		if m > 6*1440 {
			leak = 0.1
		}
		for _, l := range []struct {
			home string
			flow float64
		}{{"apartment", use + leak}, {"sprinkler-house", use}} {
			lines = append(lines, at.Format(time.RFC3339)+","+l.home+",inlet_flow,"+strings.TrimRight(formatFlow(l.flow), "0"))
		}
	}
	return lines
}

func formatFlow(f float64) string {
	if f == 0 {
		return "0.0"
	}
	return map[float64]string{6: "6.0", 6.1: "6.1", 0.1: "0.1"}[f]
}

func write(t testing.TB, lines ...string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "r.csv")
	if err := os.WriteFile(path, []byte("time,home,signal,value\n"+strings.Join(lines, "\n")+"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func run(t testing.TB, o Options) *Result {
	t.Helper()
	o.Homes = homes(t)
	r, err := Run(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// The alerts do not depend on how readings are spread over files, nor on the
// order in which a file holds them, nor on the number of engines.
func TestOrderDoesNotMatter(t *testing.T) {
	lines := leaky(t)
	want := run(t, Options{Files: []string{write(t, lines...)}, Engines: 1})
	if len(want.Alerts) != 1 || want.Alerts[0].Kind != detect.NightLeak || want.Alerts[0].Home != "apartment" || want.Sorted {
		t.Fatalf("%+v", want)
	}
	byHome := append([]string(nil), lines...)
	sort.SliceStable(byHome, func(i, j int) bool {
		return strings.Contains(byHome[i], "sprinkler") && !strings.Contains(byHome[j], "sprinkler")
	})
	shuffled := append([]string(nil), lines...)
	rand.New(rand.NewPCG(1, 2)).Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
	half := len(byHome) / 2
	for name, o := range map[string]Options{
		"two files":       {Files: []string{write(t, byHome[:half]...), write(t, byHome[half:]...)}},
		"grouped by home": {Files: []string{write(t, byHome...)}},
		"shuffled":        {Files: []string{write(t, shuffled...)}},
		"twice":           {Files: []string{write(t, lines...), write(t, lines...)}},
	} {
		got := run(t, o)
		if !reflect.DeepEqual(got.Alerts, want.Alerts) {
			t.Errorf("%s: got %v, want %v", name, got.Alerts, want.Alerts)
		}
		if a, b := booksText(t, got), booksText(t, want); a != b {
			t.Errorf("%s: books\n%s\nwant\n%s", name, a, b)
		}
	}
	if !run(t, Options{Files: []string{write(t, shuffled...)}}).Sorted {
		t.Error("a shuffled file was not noticed")
	}
}

// booksText is the books of all homes as JSON, where what is unknown is equal.
func booksText(t *testing.T, r *Result) string {
	t.Helper()
	text, err := json.Marshal(r.Books)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// The books are those of the last reading, of every home that has a profile.
func TestBooksAreCarried(t *testing.T) {
	r := run(t, Options{Files: []string{write(t, leaky(t)...)}})
	if b := r.Books["apartment"]; len(r.Books) != len(homes(t)) || b.Basis != books.ByInlet || !b.At.Equal(time.Date(2026, 5, 10, 23, 58, 0, 0, time.UTC)) {
		t.Errorf("%d books, %s as of %v", len(r.Books), b.Basis, b.At)
	}
	// 24 draws of 3 minutes at 6 L/min a day, and the last days a leak of 0.1 L/min.
	if v := float64(r.Books["apartment"].Yesterday.Through); math.Abs(v-(24*3*6+144)) > 20 {
		t.Errorf("yesterday %.0f L", v)
	}
}

func TestBadInput(t *testing.T) {
	path := write(t, "2026-05-01T00:00:00Z,apartment,inlet_flow,1", "nonsense", "2026-05-01T00:01:00Z,nowhere,inlet_flow,1", "2026-05-01T00:02:00Z,apartment,inlet_flow,NaN")
	r := run(t, Options{Files: []string{path}})
	if r.Bad[0].Count == 0 || r.Unknown["nowhere"] != 1 {
		t.Errorf("%+v", r)
	}
	if first := r.Bad[0].First[0]; first.Line != 3 || first.File != path {
		t.Error(first)
	}
	var bad *recording.BadLine
	if _, err := Run(context.Background(), Options{Homes: homes(t), Files: []string{path}, Strict: true}); !errors.As(err, &bad) {
		t.Error("strict:", err)
	}
	if _, err := Run(context.Background(), Options{Homes: homes(t), Files: []string{"/no/such/file"}}); !errors.Is(err, os.ErrNotExist) {
		t.Error("missing:", err)
	}
}

// A strict replay stops at a home that has no profile, unless others are expected.
func TestStrictKnowsItsHomes(t *testing.T) {
	path := write(t, "2026-05-01T00:00:00Z,apartment,inlet_flow,1", "2026-05-01T00:01:00Z,nowhere,inlet_flow,1")
	var bad *recording.BadLine
	if _, err := Run(context.Background(), Options{Homes: homes(t), Files: []string{path}, Strict: true}); !errors.As(err, &bad) || bad.Line != 3 || bad.File != path {
		t.Error("strict:", err)
	}
	if r := run(t, Options{Files: []string{path}, Strict: true, Others: true}); r.Unknown["nowhere"] != 1 {
		t.Errorf("others expected: %+v", r)
	}
}

func TestStopsWhenAsked(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	o := Options{Homes: homes(t), Files: []string{apartment}, Progress: func(Progress) { cancel() }}
	if _, err := Run(ctx, o); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

// The recorded homes raise nothing, whichever way they are read.
func TestRecordedHomesAreQuiet(t *testing.T) {
	r := run(t, Options{Files: []string{apartment, sprinkler}, Strict: true})
	if len(r.Alerts) != 0 || r.Readings != 342629 || r.Sorted {
		t.Errorf("%d readings, sorted %v, alerts %v", r.Readings, r.Sorted, r.Alerts)
	}
}

func BenchmarkRecordedHome(b *testing.B) {
	h := homes(b)
	for b.Loop() {
		r, err := Run(context.Background(), Options{Homes: h, Files: []string{apartment}, Engines: 1})
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(r.Readings)*float64(b.N)/b.Elapsed().Seconds(), "readings/s")
	}
}
