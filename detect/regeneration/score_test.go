package regeneration

import (
	"flag"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"brinebell/detect/series"
)

// The long table: go test ./detect/regeneration -run Table -homes 40 -v
var homes = flag.Int("homes", 4, "made-up homes per row of the recogniser's table")

var firstHome = flag.Int("first-home", 0, "seed of the first of them")

const plantDays = 120

// tally is how one set of sensors did.
type tally struct {
	truths, found, falses, unseen int
	days                          float64
	start, brine, drain           []float64
	refill                        []float64
	cut, cutFound, cutSaid        int
	stuck, stuckSaid              int
	sure                          [10]struct{ n, right int }
	misses                        []string
}

func (y *tally) score(p *plant, recs []Record) {
	used := make([]bool, len(recs))
	for _, t := range p.truth {
		if t.lost > 0.4*t.end.Sub(t.start).Minutes() {
			y.unseen++
			if i := slices.IndexFunc(recs, func(r Record) bool { return overlaps(r, t) }); i >= 0 {
				used[i] = true
			}
			continue
		}
		y.truths++
		i := slices.IndexFunc(recs, func(r Record) bool { return overlaps(r, t) })
		if i < 0 || used[i] {
			y.misses = append(y.misses, fmt.Sprintf("missed seed %d %v cut %v undrawn %v lost %.0f leak %.2f early %v %+v", p.seed, t.start.Format(time.DateTime), t.cut, t.undrawn, t.lost, t.leak, p.home.Softener.RefillBefore, p.home.Meters.Drain))
			continue
		}
		used[i] = true
		y.found++
		y.errors(recs[i], t)
	}
	for i, r := range recs {
		if !used[i] && slices.ContainsFunc(p.truth, func(t truth) bool { return t.stuck && !r.End.Before(t.start) && !r.Start.After(t.end) }) {
			continue // another piece of a cycle that stood still
		}
		if !used[i] {
			y.falses++
			y.misses = append(y.misses, fmt.Sprintf("false %v to %v %.2f %+v %.0f %.0f %.0f leak %.1f noise %.1f", r.Start.Format(time.DateTime), r.End.Format(time.TimeOnly), r.Confidence, r.Odds, r.LevelStart, r.LevelLowest, r.LevelEnd, p.leak, p.noise))
		}
		b := &y.sure[min(int(r.Confidence*10), 9)]
		b.n++
		if used[i] {
			b.right++
		}
	}
	y.days += plantDays
}

func (y *tally) errors(r Record, t truth) {
	y.start = append(y.start, math.Abs(r.Start.Sub(t.start).Minutes()))
	if t.cut {
		y.cut++
		if r.Ending == CutShort {
			y.cutSaid++
		}
		return
	}
	if t.stuck {
		y.stuck++
		if r.Ending == NeverEnded {
			y.stuckSaid++
		}
		return
	}
	if r.Ending != Completed {
		y.cutFound++
	}
	if !t.undrawn && r.BrineLitres == r.BrineLitres {
		y.brine = append(y.brine, math.Abs(r.BrineLitres/t.brine-1))
	}
	if r.DrainLitres == r.DrainLitres {
		y.drain = append(y.drain, math.Abs((r.DrainLitres-r.RunningDrain*r.End.Sub(r.Start).Minutes())/t.drain-1))
	}
	if r.RefillLitres == r.RefillLitres && t.refill > 0 {
		y.refill = append(y.refill, math.Abs(r.RefillLitres/t.refill-1))
	}
}

// overlaps says whether a record means that regeneration: they share at least
// a third of the longer one.
func overlaps(r Record, t truth) bool {
	from, to := r.Start, r.End
	if from.Before(t.start) {
		from = t.start
	}
	if to.After(t.end) {
		to = t.end
	}
	if t.stuck {
		return to.Sub(from) > 0
	}
	longer := max(r.End.Sub(r.Start), t.end.Sub(t.start))
	return to.Sub(from) > longer/4
}

func median(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	x = slices.Sorted(slices.Values(x))
	return x[len(x)/2]
}

func play(seed uint64, s sensors) (*plant, []Record) {
	p := newPlant(seed, s)
	r := New(&p.home)
	var recs []Record
	p.run(plantDays, func(m *series.Minute) {
		if rec := r.Step(m); rec != nil {
			recs = append(recs, *rec)
		}
	})
	if rec := r.Flush(); rec != nil {
		recs = append(recs, *rec)
	}
	return p, recs
}

// subsets are the sensor sets of the table.
var subsets = []struct {
	name string
	s    sensors
}{
	{"drain+level", sensors{drain: true, level: true}},
	{"drain+level+power+service", sensors{drain: true, level: true, power: true, service: true}},
	{"drain", sensors{drain: true}},
	{"drain+service", sensors{drain: true, service: true}},
	{"level", sensors{level: true}},
	{"level+power", sensors{level: true, power: true}},
	{"level+service", sensors{level: true, service: true}},
	{"service", sensors{service: true}},
	{"inlet+power", sensors{inlet: true, power: true}},
}

func TestTable(t *testing.T) {
	var table strings.Builder
	fmt.Fprintf(&table, "\n%-28s %5s %6s %7s %9s %7s %7s %7s %7s\n", "sensors", "every", "truth", "found", "false/yr", "start", "brine", "drain", "refill")
	for _, row := range subsets {
		for _, every := range []int{10, 60, 300} {
			s := row.s
			s.every = every
			y := tally{}
			for seed := range *homes {
				p, recs := play(uint64(seed+*firstHome), s)
				y.score(p, recs)
			}
			fmt.Fprintf(&table, "%-28s %4ds %6d %6.1f%% %9.2f %6.1fm %6.1f%% %6.1f%% %6.1f%%  cut %d of %d, stuck %d of %d, wrongly %d\n", row.name, every, y.truths,
				100*float64(y.found)/float64(y.truths), float64(y.falses)/y.days*365,
				median(y.start), 100*median(y.brine), 100*median(y.drain), 100*median(y.refill), y.cutSaid, y.cut, y.stuckSaid, y.stuck, y.cutFound)
			for i, b := range y.sure {
				if b.n > 0 {
					fmt.Fprintf(&table, "    confidence %.1f: %d, right %.3f\n", float64(i)/10, b.n, float64(b.right)/float64(b.n))
				}
			}
			for i, miss := range y.misses {
				if i < 12 && testing.Verbose() {
					fmt.Fprintf(&table, "    %s\n", miss)
				}
			}
		}
	}
	t.Log(table.String())
}
