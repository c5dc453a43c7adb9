package corpus

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"brinebell/detect"
)

// lineError is a mistake on a line of the file.
type lineError struct {
	line int
	why  string
}

func (e lineError) Error() string { return fmt.Sprintf("%d: %s", e.line, e.why) }

func at(n *yaml.Node, err error) error {
	if err == nil {
		return nil
	}
	return lineError{n.Line, err.Error()}
}

// Duration is written with its unit, as in "10 s", "30 min", "2 h", "3 d".
type Duration time.Duration

var durationUnits = map[string]time.Duration{"s": time.Second, "min": time.Minute, "h": time.Hour, "d": 24 * time.Hour}

// UnmarshalYAML reads a duration.
func (d *Duration) UnmarshalYAML(n *yaml.Node) error {
	number, unit, _ := strings.Cut(strings.TrimSpace(n.Value), " ")
	v, err := strconv.ParseFloat(number, 64)
	u, ok := durationUnits[unit]
	if err != nil || !ok || v < 0 {
		return at(n, fmt.Errorf("%q is not a duration, as in \"10 s\": the units are s, min, h, d", n.Value))
	}
	*d = Duration(v * float64(u))
	return nil
}

// Share is a number from 0 to 1, also written in percent.
type Share float64

// UnmarshalYAML reads a share.
func (s *Share) UnmarshalYAML(n *yaml.Node) error {
	v, err := share(n.Value)
	*s = Share(v)
	return at(n, err)
}

func share(text string) (float64, error) {
	v, err := detect.ParseQuantity(text, detect.Fraction)
	if err == nil && (v < 0 || v > 1) {
		err = fmt.Errorf("%q is not between 0 and 1 (100 %%)", text)
	}
	return v, err
}

// Range is two shares, as in "30 % to 50 %", or one.
type Range struct{ From, To float64 }

// UnmarshalYAML reads a range.
func (r *Range) UnmarshalYAML(n *yaml.Node) error {
	from, to, two := strings.Cut(n.Value, " to ")
	if !two {
		to = from
	}
	var err error
	if r.From, err = share(from); err != nil {
		return at(n, err)
	}
	if r.To, err = share(to); err == nil && r.To < r.From {
		err = fmt.Errorf("%q goes down", n.Value)
	}
	return at(n, err)
}

func (r Range) draw(u float64) float64 { return r.From + float64(u*(r.To-r.From)) }

// Volume is litres, written with a unit.
type Volume float64

// UnmarshalYAML reads a volume.
func (v *Volume) UnmarshalYAML(n *yaml.Node) error {
	x, err := detect.ParseQuantity(n.Value, detect.Volume)
	if err == nil && x < 0 {
		err = fmt.Errorf("%q is less than nothing", n.Value)
	}
	*v = Volume(x)
	return at(n, err)
}

// Day is a date, as in 2025-03-01: that day's beginning, UTC.
type Day struct{ time.Time }

// UnmarshalYAML reads a day.
func (d *Day) UnmarshalYAML(n *yaml.Node) error {
	t, err := time.Parse(time.DateOnly, n.Value)
	if err != nil {
		return at(n, fmt.Errorf("%q is not a day, as in 2025-03-01", n.Value))
	}
	d.Time = t
	return nil
}
