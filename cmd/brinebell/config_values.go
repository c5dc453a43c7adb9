package main

import (
	"fmt"
	"log/slog"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"
)

// span is a length of time written for people: 90 min, 36 h, 30 d, 5 y. Go's own
// form, 36h, is taken too.
type span time.Duration

var spanUnits = []struct {
	name   string
	length time.Duration
}{{"y", 365 * 24 * time.Hour}, {"d", 24 * time.Hour}, {"h", time.Hour}, {"min", time.Minute}, {"s", time.Second}}

// String is the span in the largest unit that holds it whole.
func (s span) String() string {
	for _, u := range spanUnits {
		if n := time.Duration(s) / u.length; n > 0 && n*u.length == time.Duration(s) {
			return fmt.Sprintf("%d %s", n, u.name)
		}
	}
	return fmt.Sprintf("%g s", time.Duration(s).Seconds())
}

// UnmarshalYAML reads the span.
func (s *span) UnmarshalYAML(n *yaml.Node) error {
	text := strings.TrimSpace(n.Value)
	if d, err := time.ParseDuration(text); err == nil && d >= 0 {
		*s = span(d)
		return nil
	}
	for _, u := range spanUnits {
		if number, ok := strings.CutSuffix(text, u.name); ok {
			if v, err := strconv.ParseFloat(strings.TrimSpace(number), 64); err == nil && v >= 0 {
				*s = span(v * float64(u.length))
				return nil
			}
		}
	}
	return atLine(n, fmt.Sprintf("%q is no length of time, as in 30 d: the units are s, min, h, d, y", n.Value))
}

// logLevel is how much is logged.
type logLevel slog.Level

// String is the level as it is written.
func (l logLevel) String() string { return strings.ToLower(slog.Level(l).String()) }

// UnmarshalYAML reads the level.
func (l *logLevel) UnmarshalYAML(n *yaml.Node) error {
	var level slog.Level
	if level.UnmarshalText([]byte(n.Value)) != nil {
		return atLine(n, fmt.Sprintf("%q: use debug, info, warn or error", n.Value))
	}
	*l = logLevel(level)
	return nil
}

// atLine is an error that the YAML decoder gathers with its own.
func atLine(n *yaml.Node, why string) error {
	return &yaml.TypeError{Errors: []string{fmt.Sprintf("line %d: %s", n.Line, why)}}
}
