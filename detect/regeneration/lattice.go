package regeneration

import "math"

// What it costs, in nats, to leave a stage of the programme out.
var skipCost = [numStages]float64{backwash: 4, draw: 3, slow: 2, fast: 4, refill: 2.5, pause: 0.5}

// noMotor is what a border costs at which the valve's motor was not seen to
// run, motor what it earns where it was.
const (
	motor   = 2.0
	noMotor = -1.0
)

// lattice finds the best path of a template through a scene: the explicit
// duration (semi-Markov) form of the Viterbi recursion.
type lattice struct {
	c     *scene
	t     *template
	model [maxStages + 1]model     // of stage j at j; of service before at 0
	best  [maxStages + 1][]float64 // of paths whose stage ends before minute t
	start [maxStages + 1][]int16
	prev  [maxStages + 1][]int8
}

// align returns the best path. Unless open, it must end in service.
func align(c *scene, t *template, open bool) path {
	l := lattice{c: c, t: t}
	l.init()
	for j := 1; j <= t.n; j++ {
		l.fill(j)
	}
	closed := l.closed()
	if open {
		if p := l.running(); p.score > closed.score {
			closed = p
		}
	}
	closed.early = t.early
	return closed
}

func (l *lattice) init() {
	n := l.c.n + 1
	for j := 0; j <= l.t.n; j++ {
		l.best[j], l.start[j], l.prev[j] = make([]float64, n), make([]int16, n), make([]int8, n)
	}
	l.model[0] = l.c.model(expectation{stage: before, flow: 1})
	for t := range n {
		l.best[0][t] = l.c.evidence(&l.model[0], 0, t)
	}
	for j := 1; j <= l.t.n; j++ {
		l.model[j] = l.c.model(l.t.steps[j-1])
	}
}

// enter is the best score of arriving at stage j at minute t, and from where.
func (l *lattice) enter(j, t int) (score float64, from int8) {
	score, skips := math.Inf(-1), 0.0
	for i := j - 1; i >= 0; i-- {
		if v := l.best[i][t] - skips; v > score {
			score, from = v, int8(i)
		}
		if i > 0 {
			skips += skipCost[l.t.steps[i-1].stage]
		}
	}
	return score + l.borderAt(j, int(from), t), from
}

// borderAt is the motor's evidence: none between draw and slow rinse, where
// the valve does not move.
func (l *lattice) borderAt(j, i, t int) float64 {
	if !l.c.hasPower {
		return 0
	}
	if i >= 1 && j <= l.t.n && l.t.steps[i-1].stage == draw && l.t.steps[j-1].stage == slow {
		return 0
	}
	return l.c.border[t]
}

// longest is how many minutes a stage is allowed, in units of the expected.
func longest(e *expectation) int { return int(e.minutes*math.Exp(2.6*e.scatter)) + 2 }

func durationCost(e *expectation, minutes int) float64 {
	z := math.Log(float64(minutes)/e.minutes) / math.Max(e.scatter, 0.6/e.minutes)
	return -z * z / 2
}

// fill computes stage j for every end.
func (l *lattice) fill(j int) {
	m, n := &l.model[j], l.c.n
	enter, from := make([]float64, n+1), make([]int8, n+1)
	for t := range n + 1 {
		enter[t], from[t] = l.enter(j, t)
		l.best[j][t] = math.Inf(-1)
	}
	most := min(longest(&m.expectation), n)
	usual := min(max(int(m.minutes), 1), most)
	for d := usual; d <= most; d++ { // the usual first: what follows then rarely beats it
		l.last(j, d, enter, from)
	}
	for d := usual - 1; d >= 1; d-- {
		l.last(j, d, enter, from)
	}
}

// last tries stage j with a length of d minutes, ending at every minute.
func (l *lattice) last(j, d int, enter []float64, from []int8) {
	m, c, best := &l.model[j], l.c, l.best[j]
	cost := durationCost(&m.expectation, d)
	for a := 0; a+d <= c.n; a++ {
		v := enter[a] + cost
		if v+c.ceiling[a+d]-c.ceiling[a] <= best[a+d] {
			continue
		}
		if v += c.evidence(m, a, a+d); v > best[a+d] {
			best[a+d], l.start[j][a+d], l.prev[j][a+d] = v, int16(a), from[a]
		}
	}
}

// closed is the best path that is over before the scene ends.
func (l *lattice) closed() path {
	m := l.c.model(expectation{stage: after, flow: 1})
	score, at, via := math.Inf(-1), 0, int8(0)
	for t := 1; t < l.c.n; t++ {
		v, from := l.enter(l.t.n+1, t)
		if from == 0 {
			continue
		}
		if v += l.c.evidence(&m, t, l.c.n); v > score {
			score, at, via = v, t, from
		}
	}
	p := l.trace(int(via), at)
	p.score = score
	p.push(segment{after, at, l.c.n})
	return p
}

// running is the best path whose last stage still goes on.
func (l *lattice) running() path {
	score, at, in, via := math.Inf(-1), 0, 0, int8(0)
	for j := 1; j <= l.t.n; j++ {
		for t := 0; t < l.c.n; t++ {
			v, from := l.enter(j, t)
			if v += l.c.evidence(&l.model[j], t, l.c.n); v > score {
				score, at, in, via = v, t, j, from
			}
		}
	}
	p := l.trace(int(via), at)
	p.score, p.open = score, true
	if in > 0 {
		p.push(segment{l.t.steps[in-1].stage, at, l.c.n})
	}
	return p
}

// trace follows the back pointers from stage j ending at minute t.
func (l *lattice) trace(j, t int) path {
	var p path
	for j > 0 {
		a := int(l.start[j][t])
		p.push(segment{l.t.steps[j-1].stage, a, t})
		j, t = int(l.prev[j][t]), a
	}
	p.push(segment{before, 0, t})
	for i, k := 0, p.n-1; i < k; i, k = i+1, k-1 {
		p.segs[i], p.segs[k] = p.segs[k], p.segs[i]
	}
	return p
}
