package finding

import (
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"brinebell/detect"
	"brinebell/detect/regeneration"
)

const (
	// residuals is how many figures of the ledger a regeneration is judged by.
	residuals = 5
	// unusualMemory is how many regenerations are remembered, unusualKnown how many
	// it takes to know a scatter in five directions.
	unusualMemory, unusualKnown = 24, 10
	// unusualFloor is the least scatter of a figure, as a standard deviation of its
	// logarithm: what sensors do to it.
	unusualFloor = 0.08
	// unusualShrink is the weight of "unrelated" in the figures' correlations.
	unusualShrink = 0.4
	// unusualTail is the chance below which one regeneration is out of the
	// ordinary; three in a row are raised. Under independence that is one in 10^9
	// regenerations; the allowance is for what is not.
	unusualTail = 1e-3
	unusualRow  = 3
	// unusualBack is the chance from which one is ordinary again.
	unusualBack = 0.05
)

// UnusualWatch says that the books do not add up, when no other finding does.
//
// Needs: a witness of regenerations; every figure that the home's sensors show
// sharpens it.
// Statistic: the Mahalanobis distance of a regeneration's logarithms (brine,
// refill, drain, minutes, and water since the one before, each over the
// programme's) from the home's own median, with median deviations for scatter and
// signs for correlation, shrunk towards none; scaled by Hotelling's F for as few as
// are remembered. Three in a row beyond 1 in 1,000, in which nothing else was
// found.
// Learning is gated: what is out of the ordinary does not teach, until twelve in a
// row agree that this is how it is now.
// Smallest fault visible: about half in one figure, less in several that part.
// Closes at the first ordinary regeneration, or when another finding names it.
// Source: Hotelling (1931) for the scale; median and median deviation as robust
// location and scatter, Huber (1981); quadrant correlation, Mosteller and Tukey.
type UnusualWatch struct {
	Past     [unusualMemory][residuals]float32
	Count    int
	Next     int
	Row      int
	Standing bool
	Onset    time.Time
	Others   uint64 // kinds that stand, as a bit set by their place in detect.Kinds
	Odd      int    // in a row that did not teach
	Known    int    // minutes with known water since the last regeneration
}

var residualNames = [residuals]string{"brine", "refill", "drain", "minutes", "water_since"}

// hearing passes a detector's verdicts on and lets UnusualWatch know what stands.
type hearing struct {
	Detector
	unusual *UnusualWatch
}

// Step is the detector's own.
func (h hearing) Step(v *View) *Verdict {
	said := h.Detector.Step(v)
	if said != nil {
		h.unusual.note(said)
	}
	return said
}

// note keeps which findings stand.
func (d *UnusualWatch) note(said *Verdict) {
	i := slices.Index(detect.Kinds(), said.Kind)
	if i < 0 || said.Kind == detect.Unusual {
		return
	}
	if said.Standing {
		d.Others |= 1 << i
	} else {
		d.Others &^= 1 << i
	}
}

// Step judges a regeneration when one has finished.
func (d *UnusualWatch) Step(v *View) *Verdict {
	if v.Minute.Values[detect.ServiceFlow] >= 0 || v.Minute.Values[detect.InletFlow] >= 0 {
		d.Known++
	}
	known := float64(d.Known)
	if v.Record != nil {
		d.Known = 0
	}
	if d.Standing && d.Others != 0 {
		return d.close()
	}
	e := v.judged()
	if e == nil || v.Record.Ending == regeneration.CutShort || v.Record.Manual {
		return nil
	}
	x := [residuals]float32{logOf(float64(e.Brine.OfProgramme)), logOf(float64(e.Refill.OfProgramme)), logOf(float64(e.Drain.OfProgramme)),
		logOf(float64(e.Minutes.OfProgramme)), logOf(waterSince(v, known))}
	tail, worst := d.tail(x)
	if tail < unusualTail {
		if d.Odd++; d.Odd > unusualMemory/2 {
			d.Count, d.Next, d.Odd = 0, 0, 0 // this is how it is now
		}
	} else {
		d.Odd = 0
	}
	switch {
	case d.Others != 0:
		d.Row = 0
		return nil
	case tail < unusualTail:
		return d.odd(v, x, tail, worst)
	}
	d.Row = 0
	d.learn(x)
	if d.Standing && tail > unusualBack {
		return d.close()
	}
	return nil
}

// waterSince is the share of usable capacity used up, where that is what brought
// the regeneration on and all of it was seen; NaN where not.
func waterSince(v *View, known float64) float64 {
	s := v.Home.Softener
	if known < waterKnown*float64(v.Entry.DaysSince)*1440 || s.Control == detect.Timed || s.DaysOverride > 0 && float64(v.Entry.DaysSince) > float64(s.DaysOverride)-1 {
		return math.NaN()
	}
	return usedUp(v.Home, float64(v.Entry.Removed))
}

func (d *UnusualWatch) close() *Verdict {
	d.Standing, d.Row = false, 0
	return &Verdict{Kind: detect.Unusual}
}

func (d *UnusualWatch) learn(x [residuals]float32) {
	d.Past[d.Next] = x
	d.Next = (d.Next + 1) % unusualMemory
	d.Count = min(d.Count+1, unusualMemory)
}

func logOf(share float64) float32 {
	if !(share > 0) {
		return float32(math.NaN())
	}
	return float32(math.Log(math.Max(share, 0.02)))
}

// centre is the median and the robust scatter of one figure's past.
func (d *UnusualWatch) centre(k int) (median, sd float64, n int) {
	var values []float64
	for _, p := range d.Past[:d.Count] {
		if p[k] == p[k] {
			values = append(values, float64(p[k]))
		}
	}
	if len(values) < unusualKnown {
		return 0, 0, 0
	}
	slices.Sort(values)
	median = values[len(values)/2]
	for i := range values {
		values[i] = math.Abs(values[i] - median)
	}
	slices.Sort(values)
	return median, math.Max(unusualFloor, 1.4826*values[len(values)/2]), len(values)
}

// tail is the chance of a regeneration as far out as x in this home, 1 while
// little is known; worst is the figure furthest out.
func (d *UnusualWatch) tail(x [residuals]float32) (tail float64, worst int) {
	var use []int
	var z []float64
	var centres [residuals][2]float64
	fewest, furthest := unusualMemory, 0.0
	for k := range x {
		m, sd, n := d.centre(k)
		if n == 0 || x[k] != x[k] {
			continue
		}
		centres[k] = [2]float64{m, sd}
		use, z = append(use, k), append(z, (float64(x[k])-m)/sd)
		fewest = min(fewest, n)
		if a := math.Abs(z[len(z)-1]); a > furthest {
			furthest, worst = a, k
		}
	}
	p := len(use)
	if p == 0 {
		return 1, 0
	}
	scatter := mat.NewSymDense(p, nil)
	for i, a := range use {
		scatter.SetSym(i, i, 1)
		for j := range use[:i] {
			scatter.SetSym(i, j, (1-unusualShrink)*d.quadrant(a, use[j], centres))
		}
	}
	var c mat.Cholesky
	if !c.Factorize(scatter) {
		return 1, worst
	}
	var y mat.VecDense
	q := mat.NewVecDense(p, z)
	if c.SolveVecTo(&y, q) != nil {
		return 1, worst
	}
	n, dims := float64(fewest), float64(p)
	// A median's own error is pi/2 of a mean's.
	f := mat.Dot(q, &y) * (n - dims) / (dims * (n - 1) * (1 + math.Pi/2/n))
	return distuv.F{D1: dims, D2: n - dims}.Survival(f), worst
}

// quadrant is the quadrant correlation of two figures.
func (d *UnusualWatch) quadrant(a, b int, centres [residuals][2]float64) float64 {
	sum, n := 0.0, 0.0
	for _, p := range d.Past[:d.Count] {
		u, w := float64(p[a])-centres[a][0], float64(p[b])-centres[b][0]
		if u == u && w == w && u != 0 && w != 0 {
			sum += math.Copysign(1, u*w)
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return math.Sin(math.Pi / 2 * sum / n)
}

func (d *UnusualWatch) odd(v *View, x [residuals]float32, tail float64, worst int) *Verdict {
	if d.Row++; d.Row == 1 && !d.Standing {
		d.Onset = v.Record.Start
	}
	if d.Row < unusualRow || d.Standing {
		return nil
	}
	d.Standing = true
	e := detect.Evidence{"regenerations": d.Row, "chance": tail, "furthest": residualNames[worst]}
	for k, name := range residualNames {
		if m, _, n := d.centre(k); n > 0 && x[k] == x[k] {
			e[name+"_share"] = round(math.Exp(float64(x[k])-m), 3)
		}
	}
	return &Verdict{Kind: detect.Unusual, Standing: true, Severity: detect.Plan, Onset: d.Onset, Evidence: e,
		Summary: "The last regenerations are not like this home's others, and nothing known explains it. Worth a look at the next visit."}
}
