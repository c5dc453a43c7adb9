package main

import (
	"flag"
	"fmt"
	"math"
	"runtime"
	"strings"
	"testing"
	"time"

	"golang.org/x/sync/errgroup"
	"gonum.org/v1/gonum/stat"

	"brinebell/detect"
	"brinebell/simulator/sensor"
)

// The long table, as in DEVELOPERS.md:
//
//	go test ./cmd/brinebell -run TestRecogniserTable -recogniser-homes 120 -recogniser-days 60 -v
var (
	recogniserHomes = flag.Int("recogniser-homes", 3, "simulated homes per row of the recogniser's table")
	recogniserDays  = flag.Int("recogniser-days", 21, "days of each of them")
)

// recogniserSeed makes homes that nothing else is tuned or tested on.
const recogniserSeed = 770_301

// kit is a set of sensors that the recogniser is measured with.
type kit struct {
	name    string
	signals sensor.Set
}

var recogniserKits = []kit{
	{"drain + level", sensor.Of(detect.DrainVolume, detect.BrineLevel)},
	{"level", sensor.Of(detect.BrineLevel)},
	{"drain", sensor.Of(detect.DrainVolume)},
	{"inlet + level", sensor.Of(detect.InletVolume, detect.BrineLevel)},
	{"power + level", sensor.Of(detect.ValvePower, detect.BrineLevel)},
	{"drain + inlet", sensor.Of(detect.DrainVolume, detect.InletVolume)},
	{"inlet", sensor.Of(detect.InletVolume)},
}

// recognised is how a kit did over some homes.
type recognised struct {
	truths, found, falses  int
	unheard, partly        int // beside these: regenerations hardly reported, records of less than half of one
	years                  float64
	start                  []float64 // minutes
	brine, drain, refill   []float64 // relative
	missedText, falsesText []string
}

func (r *recognised) add(o recognised) {
	r.truths, r.found, r.falses, r.years = r.truths+o.truths, r.found+o.found, r.falses+o.falses, r.years+o.years
	r.unheard, r.partly = r.unheard+o.unheard, r.partly+o.partly
	r.start, r.brine = append(r.start, o.start...), append(r.brine, o.brine...)
	r.drain, r.refill = append(r.drain, o.drain...), append(r.refill, o.refill...)
	r.missedText, r.falsesText = append(r.missedText, o.missedText...), append(r.falsesText, o.falsesText...)
}

func (r *recognised) share() float64 { return float64(r.found) / float64(r.truths) }

// row is a row of the table.
func (r *recognised) row(name string, every time.Duration) string {
	return fmt.Sprintf("| %s | %.0f s | %d | %.1f %% | %.2f | %s | %s | %s | %s |", name, every.Seconds(), r.truths, 100*r.share(),
		float64(r.falses)/r.years, middle(r.start, 1, "%.1f min"), middle(r.brine, 100, "%.1f %%"), middle(r.drain, 100, "%.1f %%"), middle(r.refill, 100, "%.1f %%"))
}

// middle is the median error, or a dash where the kit shows nothing of it.
func middle(errors []float64, unit float64, format string) string {
	if len(errors) == 0 {
		return "–"
	}
	return fmt.Sprintf(format, unit*median(errors))
}

func median(v []float64) float64 {
	sorted := append([]float64(nil), v...)
	stat.SortWeighted(sorted, nil)
	return stat.Quantile(0.5, stat.Empirical, sorted, nil)
}

// TestRecogniserTable holds the recogniser against whole simulated homes, whose
// machines follow physics that it does not share, and prints how it did. The
// truth is the simulated valve's position and the litres that its machine moved.
func TestRecogniserTable(t *testing.T) {
	if testing.Short() {
		t.Skip("short: no homes were simulated")
	}
	var table strings.Builder
	table.WriteString("| sensors | every | regenerations | found | false per home-year | start | brine | drain | refill |\n|---|---|---|---|---|---|---|---|---|\n")
	for _, every := range []time.Duration{10 * time.Second, time.Minute} {
		for i, r := range recogniseTown(t, every) {
			k := recogniserKits[i]
			table.WriteString(r.row(k.name, every) + "\n")
			for _, text := range append(r.missedText, r.falsesText...) {
				t.Logf("%s, %v: %s", k.name, every, text)
			}
			if r.truths == 0 {
				t.Fatalf("no simulated home regenerated in %d days", *recogniserDays)
			}
			holdRecogniser(t, k, every, r)
		}
	}
	t.Logf("%d homes, %d days each, seed %d\n%s", *recogniserHomes, *recogniserDays, recogniserSeed, table.String())
}

// holdRecogniser fails where the recogniser is far from its aims: the short run
// sees too few homes to hold it to them exactly.
func holdRecogniser(t *testing.T, k kit, every time.Duration, r recognised) {
	t.Helper()
	least := 0.90
	if k.signals == sensor.Of(detect.InletVolume) {
		least = 0.5 // household water hides what the softener takes
	}
	if r.share() < least {
		t.Errorf("%s every %v: found %d of %d", k.name, every, r.found, r.truths)
	}
	if len(r.brine) > 0 && k.signals.Has(detect.BrineLevel) && median(r.brine) > 0.15 {
		t.Errorf("%s every %v: brine is %.0f %% off", k.name, every, 100*median(r.brine))
	}
}

// recogniseTown runs every home once and has each kit hear what it would.
func recogniseTown(t *testing.T, every time.Duration) []recognised {
	t.Helper()
	return addUp(t, len(recogniserKits), func(i int) ([]recognised, error) { return recogniseHome(i, every) })
}

// addUp runs every home, several at a time, and sums the rows that each gives.
func addUp(t *testing.T, rows int, run func(i int) ([]recognised, error)) []recognised {
	t.Helper()
	byHome := make([][]recognised, *recogniserHomes)
	var g errgroup.Group
	g.SetLimit(runtime.GOMAXPROCS(0))
	for i := range byHome {
		g.Go(func() (err error) {
			byHome[i], err = run(i)
			return err
		})
	}
	if err := g.Wait(); err != nil {
		t.Fatal(err)
	}
	sums := make([]recognised, rows)
	for _, home := range byHome {
		for k := range home {
			sums[k].add(home[k])
		}
	}
	return sums
}

// off is the relative error of a measured value; known is false where either is
// not there.
func off(value, truth float64) (e float64, known bool) {
	return math.Abs(value/truth - 1), value == value && truth > 0
}
