package corpus

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash"
	"io"
	"strings"
	"testing"

	"brinebell/detect"
	"brinebell/simulator"
)

// shipped are the corpora that come with the project.
var shipped = []string{"healthy", "each-fault", "pairs", "sensor-trouble"}

func TestShippedCorporaLoad(t *testing.T) {
	seeds := map[uint64]string{}
	for _, name := range shipped {
		s, err := Load("../../testdata/corpora/" + name + ".yaml")
		if err != nil {
			t.Fatal(err)
		}
		if s.Name != name || s.About == "" {
			t.Errorf("%s calls itself %q, %q", name, s.Name, s.About)
		}
		for _, seed := range []uint64{s.Seeds.Train, s.Seeds.Check} {
			if seeds[seed] != "" {
				t.Errorf("%s shares seed %d with %s", name, seed, seeds[seed])
			}
			seeds[seed] = name
		}
		if years := s.HomeYears(); name == "healthy" && years < 200 {
			t.Errorf("%s is %.0f home-years", name, years)
		}
	}
}

func TestHealthyCorpusHasNoFaultButHolidays(t *testing.T) {
	s := load(t, "healthy", 60)
	town, err := Build(s, Check, 1)
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range town.Truth() {
		if row.Fault != detect.AwayFromHome {
			t.Errorf("%+v", row)
		}
	}
}

// Every cause comes in each-fault, every two in pairs.
func TestFaultCorporaAreComplete(t *testing.T) {
	each, pairs := map[detect.Cause]int{}, map[string]int{}
	n := len(detect.Causes())
	for i := range 10 * n {
		each[Mix{Word: "each"}.of(i, [4]float64{})[0].Cause]++
	}
	for i := range n * (n - 1) / 2 {
		d := Mix{Word: "pairs"}.of(i, [4]float64{})
		a, b := string(d[0].Cause), string(d[1].Cause)
		pairs[min(a, b)+"+"+max(a, b)]++
	}
	if len(each) != n || len(pairs) != n*(n-1)/2 {
		t.Errorf("%d causes, %d pairs", len(each), len(pairs))
	}
	for _, c := range each {
		if c != 10 {
			t.Errorf("a cause comes %d times", c)
		}
	}
}

func load(t testing.TB, name string, homes int) Spec {
	t.Helper()
	s, err := Load("../../testdata/corpora/" + name + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	s.Homes = homes
	return s
}

// recorder hashes a recording as it would be written, and checks its order.
type recorder struct {
	hash.Hash
	n    int
	last int64
	late int
}

func (r *recorder) Reading(x detect.Reading) error {
	r.n++
	if at := x.Time.UnixMilli(); at < r.last {
		r.late++
	} else {
		r.last = at
	}
	_, err := fmt.Fprintf(r, "%d,%s,%s,%.3f\n", x.Time.UnixMilli(), x.Home, x.Signal, x.Value)
	return err
}

func record(t *testing.T, s Spec, workers int) *recorder {
	t.Helper()
	r := &recorder{Hash: sha256.New()}
	if err := Run(context.Background(), s, Train, workers, r); err != nil {
		t.Fatal(err)
	}
	return r
}

func TestSameBytesOnAnyNumberOfCores(t *testing.T) {
	for _, name := range []string{"each-fault", "sensor-trouble"} {
		s := load(t, name, 29)
		s.Days = 8
		one, three := record(t, s, 1), record(t, s, 3)
		if a, b := hex.EncodeToString(one.Sum(nil)), hex.EncodeToString(three.Sum(nil)); a != b || one.n == 0 {
			t.Errorf("%s: %d readings %s on one core, %d %s on three", name, one.n, a, three.n, b)
		}
	}
}

// Sound sensors make a recording in the order of time; troubled ones do not.
func TestRecordingIsInOrderOfTime(t *testing.T) {
	s := load(t, "each-fault", 12)
	s.Days = 3
	if r := record(t, s, 0); r.late > 0 || r.n < 12*3*1440 {
		t.Errorf("%d of %d readings out of order", r.late, r.n)
	}
	s = load(t, "sensor-trouble", 12)
	s.Days = 10
	if r := record(t, s, 0); r.late == 0 {
		t.Error("no reading came late")
	}
}

// A home is the same whatever other homes there are.
func TestHomeDoesNotDependOnItsNeighbours(t *testing.T) {
	few, many := load(t, "each-fault", 2), load(t, "each-fault", 9)
	few.Days, many.Days = 4, 4
	of := func(s Spec) string {
		var b strings.Builder
		err := Run(context.Background(), s, Train, 0, sinkFunc(func(r detect.Reading) error {
			if r.Home == "home-0002" {
				fmt.Fprintln(&b, r.Time.UnixMilli(), r.Signal, r.Value)
			}
			return nil
		}))
		if err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	if a, b := of(few), of(many); a != b || a == "" {
		t.Error("the second home differs")
	}
}

type sinkFunc func(detect.Reading) error

func (f sinkFunc) Reading(r detect.Reading) error { return f(r) }

func TestRunStopsAtTheSinksError(t *testing.T) {
	s := load(t, "each-fault", 3)
	s.Days = 20
	n := 0
	err := Run(context.Background(), s, Train, 0, sinkFunc(func(detect.Reading) error { n++; return io.ErrShortWrite }))
	if err != io.ErrShortWrite || n != 1 {
		t.Errorf("%v after %d readings", err, n)
	}
}

// A homes file that the simulator writes reads back as the profiles it used.
func TestHomesFileReadsBack(t *testing.T) {
	town, err := Build(load(t, "each-fault", 40), Train, 1)
	if err != nil {
		t.Fatal(err)
	}
	want := town.Homes()
	var b strings.Builder
	if err := simulator.WriteHomes(&b, want); err != nil {
		t.Fatal(err)
	}
	got, err := detect.ReadHomes("homes.yaml", strings.NewReader(b.String()))
	if err != nil {
		t.Fatal(err)
	}
	for i := range want {
		if a, b := fmt.Sprintf("%+v", flat(got[i])), fmt.Sprintf("%+v", flat(want[i])); a != b {
			t.Errorf("read\n%s\nwrote\n%s", a, b)
		}
	}
}

// flat is a profile without pointers, for comparing.
func flat(h detect.Home) any {
	meters := fmt.Sprint(h.Meters.Inlet, h.Meters.Service, h.Meters.Drain)
	zone := h.Location.String()
	h.Meters, h.Location = detect.Meters{}, nil
	spans := ""
	for _, s := range h.Away {
		spans += fmt.Sprint(s.From.Unix(), s.To.Unix(), " ")
	}
	h.Away = nil
	return []any{h, meters, zone, spans}
}
