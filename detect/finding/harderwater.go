package finding

import (
	"fmt"
	"math"

	"brinebell/detect"
)

const (
	// harderLearning is how many readings make the water's usual hardness, harderFar how
	// far from the profile's they may lie to be believed, as a logarithm: beyond it, one
	// of the two is wrong.
	harderLearning, harderFar = 4, 0.3
	// harderScatter is the standard deviation of a reading's logarithm (a strip's step is
	// a grain, 17.1 mg/L, and people read it to one), harderSlack and harderStop are k and h of the
	// cumulative sum: in control one signal in some 42,000 readings (Siegmund).
	harderScatter, harderSlack, harderStop = 0.12, 1.0, 4.5
	// harderLeast is the least growth claimed, harderBack that below which it ends, as
	// logarithms: what the reserve takes up, and half of it.
	harderLeast, harderBack = 0.22, 0.11
	// harderApart is the time between readings that count as two, hours: a probe
	// that speaks each minute tells one thing a day.
	harderApart = 24
)

// harder follows, for CapacityShortWatch, the hardness of the water before the
// softener: a works that changes its source makes every bed run out before its
// control knows.
type harder struct {
	Usual    normal // mg/L
	Sum      float64
	Row      int
	At, From int64   // Unix hours, of the last reading and of the one with which the sum left zero
	Recent   float64 // sum of logarithms since
	Soft     int     // readings in a row back
	Standing bool
}

// take takes in a reading.
func (h *harder) take(v *View, mg float64) *Verdict {
	hour := v.Minute.Start.Unix() / 3600
	if mg <= 0 || hour-h.At < harderApart {
		return nil
	}
	h.At = hour
	x := math.Log(mg)
	if h.Usual.N < harderLearning {
		if math.Abs(x-math.Log(math.Max(v.Home.Water.Hardness, 1))) < harderFar {
			h.Usual.learn(mg)
		}
		return nil
	}
	z := (x - h.Usual.Mean) / harderScatter
	before := h.Sum
	if h.Sum = math.Min(math.Max(0, h.Sum+math.Min(z, 4)-harderSlack), 2*harderStop); before == 0 || h.Sum == 0 {
		h.Row, h.Recent, h.From = 0, 0, hour
	}
	if h.Sum > 0 {
		h.Row, h.Recent = h.Row+1, h.Recent+x
	}
	if h.Standing {
		return h.back(x)
	}
	if math.Abs(z) < 2 && h.Sum < 1 {
		h.Usual.learn(mg)
	}
	grown := h.Recent/math.Max(float64(h.Row), 1) - h.Usual.Mean
	if h.Sum < harderStop || h.Row < 2 || grown < harderLeast {
		return nil
	}
	h.Standing, h.Soft = true, 0
	now, usual := math.Exp(grown+h.Usual.Mean), math.Exp(h.Usual.Mean)
	u := wordsFor(v.Home.Units)
	return &Verdict{Kind: detect.CapacityShort, Standing: true, Severity: detect.Plan, Onset: v.hourTime(h.From),
		Evidence: detect.Evidence{"sign": "harder water", "raw_mg_per_l": round(now, 0), "usual_raw_mg_per_l": round(usual, 0), "readings": h.Row},
		Summary: fmt.Sprintf("The water that comes in has become harder: %s instead of %s. The softener goes by its old setting and comes too late; have the hardness set anew.",
			u.hardness(now), u.hardness(usual))}
}

// back ends it after two readings near what was usual.
func (h *harder) back(x float64) *Verdict {
	if h.Soft++; x-h.Usual.Mean > harderBack {
		h.Soft = 0
	}
	if h.Soft < 2 {
		return nil
	}
	*h = harder{Usual: h.Usual, At: h.At}
	return &Verdict{Kind: detect.CapacityShort}
}
