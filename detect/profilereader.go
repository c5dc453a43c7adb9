package detect

import (
	"fmt"
	"regexp"
	"sort"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"
)

// profileReader walks a YAML document strictly and gathers what is wrong, so
// that a person mends a file in one go.
type profileReader struct {
	file string
	errs []error
}

// fields are the keys a mapping may have, each with what reads its value.
type fields map[string]func(n *yaml.Node, path string)

func (p *profileReader) fail(n *yaml.Node, path, why string) {
	p.errs = append(p.errs, fmt.Errorf("%s:%d: %s: %s", p.file, n.Line, strings.TrimPrefix(path, "."), why))
}

func (p *profileReader) mapping(n *yaml.Node, path string, f fields) {
	if n.Kind != yaml.MappingNode {
		p.fail(n, path, "expected keys with values here")
		return
	}
	seen := map[string]bool{}
	for i := 0; i+1 < len(n.Content); i += 2 {
		key, value := n.Content[i], n.Content[i+1]
		if value.Kind == yaml.AliasNode {
			value = value.Alias
		}
		read, ok := f[key.Value]
		switch {
		case !ok:
			p.fail(key, path+"."+key.Value, "unknown key: use "+strings.Join(sortedKeys(f), ", "))
		case seen[key.Value]:
			p.fail(key, path+"."+key.Value, "given twice")
		default:
			read(value, path+"."+key.Value)
		}
		seen[key.Value] = true
	}
}

func (p *profileReader) list(n *yaml.Node, path string, each func(*yaml.Node, string)) {
	if n.Kind == yaml.ScalarNode && n.Tag == "!!null" {
		return
	}
	if n.Kind != yaml.SequenceNode {
		p.fail(n, path, "expected a list here")
		return
	}
	for i, item := range n.Content {
		each(item, fmt.Sprintf("%s[%d]", path, i))
	}
}

func (p *profileReader) text(at *string) func(*yaml.Node, string) {
	return func(n *yaml.Node, path string) {
		if n.Kind != yaml.ScalarNode {
			p.fail(n, path, "expected a text here")
			return
		}
		*at = n.Value
	}
}

func (p *profileReader) appendText(at *[]string) func(*yaml.Node, string) {
	return func(n *yaml.Node, path string) {
		var s string
		p.text(&s)(n, path)
		*at = append(*at, s)
	}
}

func (p *profileReader) pattern(at *string, want *regexp.Regexp, hint string) func(*yaml.Node, string) {
	return func(n *yaml.Node, path string) {
		if !want.MatchString(n.Value) {
			p.fail(n, path, fmt.Sprintf("%q: use %s", n.Value, hint))
			return
		}
		*at = n.Value
	}
}

func (p *profileReader) zone(at **time.Location) func(*yaml.Node, string) {
	return func(n *yaml.Node, path string) {
		loc, err := time.LoadLocation(n.Value)
		if err != nil || n.Value == "" || n.Value == "Local" {
			p.fail(n, path, fmt.Sprintf("%q is not an IANA time zone, as in Europe/Dublin", n.Value))
			loc = time.UTC // one complaint is enough
		}
		*at = loc
	}
}

func (p *profileReader) choice(options map[string]func()) func(*yaml.Node, string) {
	return func(n *yaml.Node, path string) {
		set, ok := options[n.Value]
		if !ok {
			p.fail(n, path, fmt.Sprintf("%q: use %s", n.Value, strings.Join(sortedKeys(options), ", ")))
			return
		}
		set()
	}
}

func (p *profileReader) quantity(at *float64, d Dimension, least, most float64) func(*yaml.Node, string) {
	return func(n *yaml.Node, path string) {
		v, err := ParseQuantity(n.Value, d)
		if err != nil {
			p.fail(n, path, err.Error())
			return
		}
		p.set(n, path, at, v, least, most)
	}
}

func (p *profileReader) number(at *float64, least, most float64) func(*yaml.Node, string) {
	return func(n *yaml.Node, path string) {
		v, err := strconv.ParseFloat(n.Value, 64)
		if err != nil {
			p.fail(n, path, fmt.Sprintf("%q is not a number", n.Value))
			return
		}
		p.set(n, path, at, v, least, most)
	}
}

func (p *profileReader) set(n *yaml.Node, path string, at *float64, v, least, most float64) {
	if !(v >= least && v <= most) {
		p.fail(n, path, fmt.Sprintf("%q is outside %g to %g", n.Value, least, most))
		return
	}
	*at = v
}

func (p *profileReader) whole(at *int, least, most int) func(*yaml.Node, string) {
	return func(n *yaml.Node, path string) {
		v, err := strconv.Atoi(n.Value)
		if err != nil || v < least || v > most {
			p.fail(n, path, fmt.Sprintf("%q is not a whole number from %d to %d", n.Value, least, most))
			return
		}
		*at = v
	}
}

// clock reads an hour of the day, as in "02:00".
func (p *profileReader) clock(at *time.Duration) func(*yaml.Node, string) {
	return func(n *yaml.Node, path string) {
		t, err := time.Parse("15:04", n.Value)
		if err != nil {
			p.fail(n, path, fmt.Sprintf("%q is not an hour of the day, as in \"02:00\"", n.Value))
			return
		}
		*at = time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute
	}
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}
