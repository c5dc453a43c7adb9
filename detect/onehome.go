package detect

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"
)

// ReadHome reads the profile of one home: an item of a homes file's list, by
// itself. What is wrong is reported as by ReadHomes.
func ReadHome(name, text string) (Home, error) {
	n, err := profileNode(name, text)
	if err != nil {
		return Home{}, err
	}
	p := &profileReader{file: name}
	h := p.home(n, "")
	return h, errors.Join(p.errs...)
}

func profileNode(name, text string) (*yaml.Node, error) {
	var doc yaml.Node
	switch err := yaml.NewDecoder(strings.NewReader(text)).Decode(&doc); {
	case errors.Is(err, io.EOF):
		return nil, fmt.Errorf("%s: empty: a profile has at least id and timezone", name)
	case err != nil:
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return doc.Content[0], nil
}

// SplitHomes are the profiles of a homes file as text, in its order, each to be
// read by ReadHome.
func SplitHomes(name string, r io.Reader) ([]string, error) {
	var doc struct {
		Homes []yaml.Node `yaml:"homes"`
	}
	if err := yaml.NewDecoder(r).Decode(&doc); err != nil && !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	texts := make([]string, len(doc.Homes))
	for i := range doc.Homes {
		text, err := yaml.Marshal(&doc.Homes[i])
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		texts[i] = string(text)
	}
	return texts, nil
}

// WithAway is a home's profile as text with other spans of absence, the rest as
// it was, comments too. Spans are whole days of the home.
func WithAway(text string, away []Span) (string, error) {
	n, err := profileNode("profile", text)
	if err != nil {
		return "", err
	}
	if n.Kind != yaml.MappingNode {
		return "", errors.New("profile: expected keys with values")
	}
	list := &yaml.Node{Kind: yaml.SequenceNode, Tag: "!!seq"}
	for _, s := range away {
		item := &yaml.Node{Kind: yaml.MappingNode, Tag: "!!map", Style: yaml.FlowStyle}
		for _, day := range [2]struct {
			key string
			at  time.Time
		}{{"from", s.From}, {"to", s.To.AddDate(0, 0, -1)}} {
			item.Content = append(item.Content, &yaml.Node{Kind: yaml.ScalarNode, Value: day.key}, &yaml.Node{Kind: yaml.ScalarNode, Value: day.at.Format(time.DateOnly)})
		}
		list.Content = append(list.Content, item)
	}
	setKey(n, "away", list)
	out, err := yaml.Marshal(n)
	return string(out), err
}

// setKey sets a key of a mapping.
func setKey(n *yaml.Node, key string, value *yaml.Node) {
	for i := 0; i+1 < len(n.Content); i += 2 {
		if n.Content[i].Value == key {
			n.Content[i+1] = value
			return
		}
	}
	n.Content = append(n.Content, &yaml.Node{Kind: yaml.ScalarNode, Value: key}, value)
}

// JudgeAgain says what of a home's judging no longer holds when its profile
// changes: from is the time from which it must be judged again, the zero time
// for all of it. When again is false everything holds, and the new profile is
// for what comes.
//
// What the sensors' numbers mean was never otherwise: meters, the tank's shape
// and the home's clock are put right for the past too. Absences explain what was
// seen then. The softener's settings, the water and the people change at some
// time, and were before it as they were written down.
func JudgeAgain(old, changed Home) (from time.Time, again bool) {
	if old.BrineTank != changed.BrineTank || !sameMeters(old.Meters, changed.Meters) || old.Location.String() != changed.Location.String() {
		return time.Time{}, true
	}
	for _, s := range append(without(old.Away, changed.Away), without(changed.Away, old.Away)...) {
		if !again || s.From.Before(from) {
			from, again = s.From, true
		}
	}
	return from, again
}

func sameMeters(a, b Meters) bool {
	same := func(a, b *Meter) bool { return a == b || a != nil && b != nil && *a == *b }
	return same(a.Inlet, b.Inlet) && same(a.Service, b.Service) && same(a.Drain, b.Drain)
}

// without are the spans of a that are not in b.
func without(a, b []Span) (out []Span) {
next:
	for _, s := range a {
		for _, t := range b {
			if s.From.Equal(t.From) && s.To.Equal(t.To) {
				continue next
			}
		}
		out = append(out, s)
	}
	return out
}
