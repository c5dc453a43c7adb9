package corpus

import (
	"fmt"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"brinebell/detect"
)

// Dose is a cause with a severity; 0 means that it is drawn.
type Dose struct {
	Cause    detect.Cause
	Severity float64
}

// Mix says which faults a home gets.
type Mix struct {
	Word string   // none, each, pairs or mix; empty for Sets
	Sets [][]Dose // homes take them in turn
}

// words are the mixes with a name.
var words = []string{"none", "each", "pairs", "mix"}

// ParseMix reads a mix:
//
//	none                     nothing breaks
//	each                     the causes in turn, one a home
//	pairs                    every two causes in turn
//	mix                      causes at random: most homes one, some two
//	a,b+c                    homes in turn: a alone; b and c together
//	a:0.3                    a at a severity of 0.3
//	a,none                   every second home with a
func ParseMix(text string) (Mix, error) {
	text = strings.TrimSpace(text)
	if slices.Contains(words, text) {
		return Mix{Word: text}, nil
	}
	var m Mix
	for set := range strings.SplitSeq(text, ",") {
		var doses []Dose
		if strings.TrimSpace(set) == "none" { // a home in which nothing breaks, among others
			m.Sets = append(m.Sets, nil)
			continue
		}
		for one := range strings.SplitSeq(set, "+") {
			d, err := parseDose(strings.TrimSpace(one))
			if err != nil {
				return Mix{}, err
			}
			doses = append(doses, d)
		}
		m.Sets = append(m.Sets, doses)
	}
	return m, nil
}

func parseDose(text string) (Dose, error) {
	name, severity, given := strings.Cut(text, ":")
	d := Dose{Cause: detect.Cause(name)}
	if !slices.Contains(detect.Causes(), d.Cause) {
		if slices.Contains(words, name) {
			return d, fmt.Errorf("%q stands for a whole mix and cannot be part of one", name)
		}
		if near, ok := detect.Nearest(name, allNames()); ok {
			return d, fmt.Errorf("unknown fault %.40q: %s is near", name, near)
		}
		return d, fmt.Errorf("unknown fault %.40q: use %s", name, strings.Join(allNames(), ", "))
	}
	if !given {
		return d, nil
	}
	var err error
	if d.Severity, err = share(severity); err != nil {
		err = fmt.Errorf("severity of %s: %w", name, err)
	} else if d.Severity == 0 {
		err = fmt.Errorf("fault %q has a severity of nothing", text)
	}
	return d, err
}

// allNames are the words that a mix is made of.
func allNames() []string {
	names := slices.Clone(words)
	for _, c := range detect.Causes() {
		names = append(names, string(c))
	}
	return names
}

// UnmarshalYAML reads a mix.
func (m *Mix) UnmarshalYAML(n *yaml.Node) error {
	parsed, err := ParseMix(n.Value)
	*m = parsed
	return at(n, err)
}

// of is what home i of a run gets; u are random numbers of the home.
func (m Mix) of(i int, u [4]float64) []Dose {
	all := detect.Causes()
	any := func(u float64) Dose { return Dose{Cause: all[int(u*float64(len(all)))]} }
	switch m.Word {
	case "none":
		return nil
	case "each":
		return []Dose{{Cause: all[i%len(all)]}}
	case "pairs":
		a, b := pair(i, len(all))
		return []Dose{{Cause: all[a]}, {Cause: all[b]}}
	case "mix":
		const second = 0.2 // share of homes with two
		doses := []Dose{any(u[0])}
		if other := any(u[1]); u[2] < second && other != doses[0] {
			doses = append(doses, other)
		}
		return doses
	}
	return m.Sets[i%len(m.Sets)]
}

// pair is the i-th of all pairs of n things: neighbours first, then those two
// apart, so that a few homes already hold many causes.
func pair(i, n int) (a, b int) {
	a = i % n
	apart := 1 + i/n%(n-1)
	return a, (a + apart) % n
}
