package detect

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"
)

// profileReader walks a YAML document strictly and gathers what is wrong, so
// that a person mends a file in one go.
//
// With keys set it reads nothing, every node being nil, and describes what it
// would read instead: the help then says what the reader does.
type profileReader struct {
	file string
	note func(string) // told of what can be read but was perhaps not meant
	errs []error
	keys *[]ProfileKey
}

// fields are the keys a mapping may have, in the order they are taught.
type fields []field

// field is one key, what it is about and what reads its value.
type field struct {
	key, about string
	read       func(n *yaml.Node, path string)
}

func (f fields) find(key string) (field, bool) {
	for _, x := range f {
		if x.key == key {
			return x, true
		}
	}
	return field{}, false
}

func (f fields) names() (names []string) {
	for _, x := range f {
		names = append(names, x.key)
	}
	return names
}

// options are the words that a choice takes, each with what it sets.
type options []option

type option struct {
	word string
	set  func()
}

func (o options) words() (words []string) {
	for _, x := range o {
		words = append(words, x.word)
	}
	return words
}

// remark notes what was perhaps not meant.
func (p *profileReader) remark(n *yaml.Node, path, what string) {
	p.note(fmt.Sprintf("%s:%d: %s: %s", p.file, n.Line, strings.TrimPrefix(path, "."), what))
}

func (p *profileReader) fail(n *yaml.Node, path, why string) {
	p.errs = append(p.errs, fmt.Errorf("%s:%d: %s: %s", p.file, n.Line, strings.TrimPrefix(path, "."), why))
}

func (p *profileReader) mapping(n *yaml.Node, path string, f fields) {
	if p.describing() {
		p.describeAll(path, f)
		return
	}
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
		known, ok := f.find(key.Value)
		switch {
		case !ok:
			p.fail(key, path+"."+key.Value, "unknown key: use "+strings.Join(f.names(), ", "))
		case seen[key.Value]:
			p.fail(key, path+"."+key.Value, "given twice")
		default:
			known.read(value, path+"."+key.Value)
		}
		seen[key.Value] = true
	}
}

func (p *profileReader) list(n *yaml.Node, path string, each func(*yaml.Node, string)) {
	if p.describing() {
		p.describeList(path, each)
		return
	}
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
		if p.describe("text", *at) {
			return
		}
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
		if p.describe(hint, *at) {
			return
		}
		if !want.MatchString(n.Value) {
			p.fail(n, path, fmt.Sprintf("%q: use %s", n.Value, hint))
			return
		}
		*at = n.Value
	}
}

func (p *profileReader) zone(at **time.Location) func(*yaml.Node, string) {
	return func(n *yaml.Node, path string) {
		if p.describe("an IANA time zone, as in Europe/Dublin", "") {
			return
		}
		loc, err := time.LoadLocation(n.Value)
		if err != nil || n.Value == "" || n.Value == "Local" {
			p.fail(n, path, fmt.Sprintf("%q is not an IANA time zone, as in Europe/Dublin", n.Value))
			loc = time.UTC // one complaint is enough
		}
		*at = loc
	}
}

// choice takes one of some words; usual is the default.
func (p *profileReader) choice(usual string, o options) func(*yaml.Node, string) {
	return func(n *yaml.Node, path string) {
		if p.describe(strings.Join(o.words(), " | "), usual) {
			return
		}
		for _, x := range o {
			if x.word == n.Value {
				x.set()
				return
			}
		}
		p.fail(n, path, fmt.Sprintf("%q: use %s", n.Value, strings.Join(o.words(), ", ")))
	}
}

func (p *profileReader) quantity(at *float64, d Dimension, least, most float64) func(*yaml.Node, string) {
	return func(n *yaml.Node, path string) {
		if p.describe(describeRange(d, least, most), describeValue(*at, d)) {
			return
		}
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
		if p.describe(fmt.Sprintf("a number, %g to %g", least, most), plainNumber(*at)) {
			return
		}
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
		if p.describe(fmt.Sprintf("a whole number, %d to %d", least, most), strconv.Itoa(*at)) {
			return
		}
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
		if p.describe("an hour of the day, as in \"02:00\"", fmt.Sprintf("%02d:%02d", int(at.Hours()), int(at.Minutes())%60)) {
			return
		}
		t, err := time.Parse("15:04", n.Value)
		if err != nil {
			p.fail(n, path, fmt.Sprintf("%q is not an hour of the day, as in \"02:00\"", n.Value))
			return
		}
		*at = time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute
	}
}
