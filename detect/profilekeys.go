package detect

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// ProfileKey is one key of a homes file.
type ProfileKey struct {
	Path    string // as in homes[].water.hardness
	About   string
	Value   string // what may be written; empty for a group of keys
	Default string // in the canonical unit; empty for none
}

// ProfileKeys describes every key of a homes file, groups before their keys, in
// the words of the reader itself.
func ProfileKeys() []ProfileKey {
	var keys []ProfileKey
	p := &profileReader{keys: &keys}
	var homes []Home
	p.mapping(nil, "", p.homes(&homes))
	return keys
}

func (p *profileReader) describing() bool { return p.keys != nil }

// describe notes what the key at hand takes, and says whether that is all that
// was asked for.
func (p *profileReader) describe(value, usual string) bool {
	if !p.describing() {
		return false
	}
	last := &(*p.keys)[len(*p.keys)-1]
	last.Value, last.Default = value, usual
	return true
}

func (p *profileReader) describeAll(path string, f fields) {
	for _, x := range f {
		*p.keys = append(*p.keys, ProfileKey{Path: strings.TrimPrefix(path+"."+x.key, "."), About: x.about})
		x.read(nil, path+"."+x.key)
	}
}

// describeList describes what a list holds: keys of its own, or one value.
func (p *profileReader) describeList(path string, each func(*yaml.Node, string)) {
	list := len(*p.keys) - 1
	each(nil, path+"[]")
	if path != ".homes" { // an item that is there says all of itself
		for i := range (*p.keys)[list+1:] {
			(*p.keys)[list+1+i].Default = ""
		}
	}
	switch k := &(*p.keys)[list]; {
	case k.Value == "":
		k.Value = "a list"
	default:
		k.Value, k.Default = "a list: "+k.Value, ""
	}
}

func describeRange(d Dimension, least, most float64) string {
	text := fmt.Sprintf("%s to %s", plainNumber(least), strings.TrimSpace(plainNumber(most)+" "+canonical[d]))
	units := unitsOf(d)
	units = slices.DeleteFunc(units, func(u string) bool { // l beside L
		other := strings.ReplaceAll(u, "l", "L")
		return other != u && slices.Contains(units, other)
	})
	if len(units) > 1 || len(units) == 1 && canonical[d] == "" {
		text += " (" + strings.Join(units, ", ") + ")"
	}
	return text
}

func describeValue(v float64, d Dimension) string {
	return strings.TrimSpace(plainNumber(v) + " " + canonical[d])
}

func plainNumber(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

// isBare says whether a quantity was written without a unit.
func isBare(text string) bool {
	text = strings.TrimSpace(text)
	return numberEnd(text) == len(text)
}
