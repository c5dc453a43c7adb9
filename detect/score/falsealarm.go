package score

import "brinebell/detect"

// FalseRate is how often alerts of one kind, or of all, were raised and wrong.
type FalseRate struct {
	Kind         detect.Kind `json:"kind,omitempty"`
	Alerts       int         `json:"alerts"`
	Right        int         `json:"right"`
	Consequences int         `json:"consequences"`
	False        int         `json:"false"`
	PerYear      float64     `json:"per_home_year"` // false ones
	Low          float64     `json:"low"`
	High         float64     `json:"high"`
	Homes        int         `json:"homes"` // with at least one false one
}

// rates sums the alerts up.
func (r *Report) rates(intn func(int) int) {
	for _, k := range detect.Kinds() {
		f := r.rate(func(h Heard) bool { return h.Kind == k }, intn)
		if f.Alerts > 0 {
			f.Kind = k
			r.False = append(r.False, f)
		}
	}
	r.FalseAll = r.rate(func(Heard) bool { return true }, intn)
	r.FalseActNow = r.rate(func(h Heard) bool { return h.Severity == detect.ActNow }, intn)
}

// rate counts the alerts that are chosen.
func (r *Report) rate(chosen func(Heard) bool, intn func(int) int) FalseRate {
	index := make(map[string]int, len(r.Exposures))
	counts, years := make([]int, len(r.Exposures)), make([]float64, len(r.Exposures))
	for i, x := range r.Exposures {
		index[x.Home], years[i] = i, x.Years
	}
	var f FalseRate
	for _, h := range r.Alerts {
		if !chosen(h) {
			continue
		}
		f.Alerts++
		switch h.Verdict {
		case Right:
			f.Right++
		case Consequence:
			f.Consequences++
		case False:
			f.False++
			counts[index[h.Home]]++
		}
	}
	for _, n := range counts {
		if n > 0 {
			f.Homes++
		}
	}
	f.Low, f.High = Bootstrap(counts, years, intn)
	if r.Years > 0 {
		f.PerYear = float64(f.False) / r.Years
	}
	return f
}
