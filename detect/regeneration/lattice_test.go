package regeneration

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat"

	"brinebell/detect"
)

// randomScene is a few minutes of noise about three flows and a falling level.
func randomScene(rng *rand.Rand, n int) scene {
	c := scene{n: n, sigma: 2, hasDrain: true, hasUp: rng.IntN(2) == 0, hasLevel: true}
	for t := range n {
		flow := []float64{0, 6, 2, 0}[4*t/n]
		c.drain = append(c.drain, math.Abs(flow+0.3*rng.NormFloat64()))
		c.up = append(c.up, math.Abs(flow+rng.ExpFloat64()))
		c.level = append(c.level, 200-4*float64(max(t-n/2, 0))+rng.NormFloat64())
	}
	c.runningAfter = c.running
	c.layDrain()
	c.layUp()
	c.layLevel()
	c.layCeiling()
	return c
}

func shortTemplate() template {
	t := template{}
	t.add(expectation{stage: backwash, minutes: 3, flow: 6, scatter: 0.5, flowScatter: 0.5})
	t.add(expectation{stage: draw, minutes: 3, flow: 2, scatter: 0.7, flowScatter: 0.5})
	t.add(expectation{stage: fast, minutes: 2, flow: 6, scatter: 0.5, flowScatter: 0.5})
	return t
}

// bruteForce tries every division of the scene among every choice of stages.
func bruteForce(c *scene, t *template) float64 {
	best := math.Inf(-1)
	idle := c.model(expectation{stage: before, flow: 1})
	late := c.model(expectation{stage: after, flow: 1})
	var try func(j, at int, score float64, used bool)
	try = func(j, at int, score float64, used bool) {
		if j == t.n {
			if used && at > 0 && at < c.n {
				best = max(best, score+c.evidence(&late, at, c.n))
			}
			return
		}
		m := c.model(t.steps[j])
		try(j+1, at, score-skipCost[m.stage], used)
		for d := 1; d <= longest(&m.expectation) && at+d <= c.n; d++ {
			try(j+1, at+d, score+durationCost(&m.expectation, d)+c.evidence(&m, at, at+d), true)
		}
	}
	for start := 0; start <= c.n; start++ {
		try(0, start, c.evidence(&idle, 0, start), false)
	}
	return best
}

// The recursion with its early dropping of paths finds what trying everything
// finds.
func TestLatticeIsExact(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	tmpl := shortTemplate()
	for range 60 {
		c := randomScene(rng, 8+rng.IntN(7))
		got, want := align(&c, &tmpl, false), bruteForce(&c, &tmpl)
		if math.Abs(got.score-want) > 1e-9 {
			t.Fatalf("%d minutes: lattice %v, everything tried %v", c.n, got.score, want)
		}
	}
}

// No stage earns more than the ceiling by which paths are dropped.
func TestNothingBeatsTheCeiling(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	tmpl := shortTemplate()
	for range 50 {
		c := randomScene(rng, 12)
		for _, e := range tmpl.steps[:tmpl.n] {
			m := c.model(e)
			for a := range c.n {
				for b := a + 1; b <= c.n; b++ {
					if v := c.evidence(&m, a, b); v > c.ceiling[b]-c.ceiling[a]+1e-9 {
						t.Fatalf("%v over [%d, %d): %v above %v", e.stage, a, b, v, c.ceiling[b]-c.ceiling[a])
					}
				}
			}
		}
	}
}

// The line through the levels is least squares, as gonum's regression has it,
// and holds its slope within the bounds.
func TestLevelFitIsLeastSquares(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	for range 40 {
		c := randomScene(rng, 20)
		a, b := rng.IntN(8), 12+rng.IntN(8)
		var x, y []float64
		for k := a; k < b; k++ {
			x, y = append(x, float64(k)), append(y, c.level[k])
		}
		icept, slope := stat.LinearRegression(x, y, nil, false)
		rss := 0.0
		for i := range x {
			rss += math.Pow(y[i]-icept-slope*x[i], 2)
		}
		near(t, "free fit", c.levelFit(a, b, -100, 100), -rss/(2*c.sigma*c.sigma), 1e-6)
		near(t, "level fit", c.levelFit(a, b, 0, 0), -stat.Variance(y, nil)*float64(len(y)-1)/(2*c.sigma*c.sigma), 1e-6)
	}
}

// Both densities hold one minute's probability in all: their range is that of
// household flows, so what lies beyond is left out.
func TestDensitiesHoldOne(t *testing.T) {
	sum := func(f func(x float64) float64) float64 {
		s, dx := 0.0, 0.001
		for x := -3.0; x < 30; x += dx {
			s += dx * math.Exp(f(x)+mostDensity)
		}
		return s
	}
	for _, q := range []float64{0, 0.5, 2, 8} {
		near(t, "at the drain", sum(func(x float64) float64 { return nearFlow(x, q, 0) }), 1, 0.02)
		near(t, "upstream", sum(func(x float64) float64 { return aboveFlow(x, q, busyShare, 0) }), 1, 0.02)
	}
}

func TestWindowForgetsAndHolds(t *testing.T) {
	var w Window
	w.skipTo(1000)
	for k := range span + 40 {
		w.push(float64(k)/100, float64(k), 0.5, math.NaN())
	}
	last := w.Next - 1
	near(t, "drain", w.at(&w.Drain, last, flowStep), float64(span+39)/100, flowStep)
	near(t, "level", w.at(&w.Level, last-10, levelStep), float64(span+29), levelStep)
	if v := w.at(&w.Level, last-span, levelStep); v == v {
		t.Errorf("beyond the window: %v", v)
	}
	if _, n := w.mean(&w.Up, last-20, last, flowStep); n != 0 {
		t.Errorf("%d known minutes of a sensor that is not there", n)
	}
	w.skipTo(w.Next + 3)
	mean, n := w.mean(&w.Level, w.Next-5, w.Next, levelStep)
	near(t, "mean over a hole", mean, float64(span+38)+0.5, 0.01)
	if n != 2 {
		t.Errorf("%d known, want 2", n)
	}
}

func TestHoursGoRound(t *testing.T) {
	near(t, "over midnight", hourDistance(10, 1430), 20, 1e-9)
	near(t, "back over it", hourDistance(1430, 10), -20, 1e-9)
	var h Habit
	for range 40 {
		h.learnHour(1435, 5)
	}
	near(t, "usual hour", math.Abs(hourDistance(h.Hour, 1435)), 0, 2)
	h = Habit{}
	for k := range 40 {
		at := 120.0
		if k%8 == 3 {
			at = 700 // by hand
		}
		h.learnHour(at, 120)
	}
	near(t, "with starts by hand", h.Hour, 120, 35)
}

func TestProgrammeIsOnlyABeginning(t *testing.T) {
	home := detect.DefaultHome("taught", time.UTC)
	s := newScript()
	s.play(night)
	for range 4 { // the home's own cycle is half as long again as its profile
		s.play(stretch{15, 5, 5, 0}, stretch{22, 1.3, 1, -3}, stretch{70, 1.3, 1.3, 0}, stretch{9, 5, 5, 0},
			stretch{6, 0, 1.3, 11}, stretch{minutes: 3*1440 - 122})
	}
	if len(s.records) != 4 {
		t.Fatalf("%d records", len(s.records))
	}
	tmpl := newTemplate(&home.Softener, &s.r.Habit, false)
	near(t, "backwash minutes", tmpl.minutes(backwash), 15, 1)
	near(t, "fast rinse minutes", tmpl.minutes(fast), 9, 1)
	near(t, "refill minutes", tmpl.minutes(refill), 6, 1)
	near(t, "fast rinse flow", tmpl.flow(fast), 5, 0.2)
}
