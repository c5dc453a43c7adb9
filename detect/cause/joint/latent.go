package joint

import "math"

// Numbers are measured numbers that depend on which causes are there and on how
// bad they are. One severity stands behind all the numbers of a cause: a slight
// clog draws a little less and leaves a little more. Given the severity the
// numbers are independent; it is not known and summed over, each level as
// likely as the next. Taken as independent outright, numbers that come together
// would count as often as there are of them.
type Numbers struct {
	None  []float64     // by number: density where no cause moves it
	Alone [][][]float64 // by cause, level of severity and number; nil: the cause moves none; NaN: not this one
}

// Measured is the log likelihood of the numbers. Where two causes both move a
// number it is taken to show either of them, one as likely as the other.
func (s *Space) Measured(n Numbers) []float64 {
	none := 1.0
	for _, v := range n.None {
		none *= v
	}
	logs := make([]float64, len(s.All))
	for i, h := range s.All {
		logs[i] = math.Log(math.Max(n.like(h, none), leastNumbers))
	}
	return logs
}

// leastNumbers keeps a hypothesis alive that the numbers speak against: the
// tables are written by people.
const leastNumbers = 1e-12

func (n Numbers) like(h Hypothesis, none float64) float64 {
	a, b := n.levels(h.A), n.levels(h.B)
	switch {
	case a == nil && b == nil:
		return none
	case a == nil:
		a, b = b, nil
	}
	sum, count := 0.0, 0
	for _, x := range a {
		if b == nil {
			sum, count = sum+n.product(x, nil), count+1
			continue
		}
		for _, y := range b {
			sum, count = sum+n.product(x, y), count+1
		}
	}
	return sum / float64(count)
}

func (n Numbers) levels(c int) [][]float64 {
	if c == Nobody {
		return nil
	}
	return n.Alone[c]
}

// product is the likelihood of all numbers at one severity of each cause.
func (n Numbers) product(x, y []float64) float64 {
	p := 1.0
	for k, none := range n.None {
		a, b := math.NaN(), math.NaN()
		if x != nil {
			a = x[k]
		}
		if y != nil {
			b = y[k]
		}
		switch {
		case a == a && b == b:
			p *= (a + b) / 2
		case a == a:
			p *= a
		case b == b:
			p *= b
		default:
			p *= none
		}
	}
	return p
}

// Without is all the numbers but one.
func (n Numbers) Without(k int) Numbers {
	rest := Numbers{None: dropped(n.None, k), Alone: make([][][]float64, len(n.Alone))}
	for c, levels := range n.Alone {
		for _, x := range levels {
			rest.Alone[c] = append(rest.Alone[c], dropped(x, k))
		}
	}
	return rest
}

func dropped(x []float64, k int) []float64 {
	return append(append([]float64{}, x[:k]...), x[k+1:]...)
}
