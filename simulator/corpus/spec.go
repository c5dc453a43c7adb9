package corpus

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"regexp"
	"slices"
	"time"

	"go.yaml.in/yaml/v3"

	"brinebell/simulator/sensor"
)

// Spec is a corpus. Every key has a default but homes.
type Spec struct {
	Name       string     `yaml:"corpus"`
	About      string     `yaml:"about"`
	Seeds      Seeds      `yaml:"seeds"`
	Start      Day        `yaml:"start"`
	Days       int        `yaml:"days"`
	Homes      int        `yaml:"homes"`
	Interval   Duration   `yaml:"interval"`
	Signals    Signals    `yaml:"signals"`
	Population Population `yaml:"population"`
	Faults     Faults     `yaml:"faults"`
	Sensors    Sensors    `yaml:"sensors"`
}

// Seeds are the two seeds of a corpus. Only Train may be tuned on.
type Seeds struct {
	Train uint64 `yaml:"train"`
	Check uint64 `yaml:"check"`
}

// Population says who lives in the homes and where.
type Population struct {
	Difficult Share    `yaml:"difficult"` // homes drawn from the difficult population
	Quiet     bool     `yaml:"quiet"`     // nobody travels, nobody visits
	Timezones []string `yaml:"timezones"`
	Scatter   Share    `yaml:"scatter"` // of real machines around their profiles
}

// Faults says what breaks.
type Faults struct {
	Mix             Mix   `yaml:"mix"`
	Share           Share `yaml:"share"`    // of homes in which it does
	Severity        Range `yaml:"severity"` // unless the mix says
	Onset           Range `yaml:"onset"`    // of the run
	Repaired        Range `yaml:"repaired"` // of the run; 100 %: never
	Gradual         Share `yaml:"gradual"`  // of the faults that can creep up, those that do
	BackgroundLeaks bool  `yaml:"background_leaks"`
}

// Sensors is how homes are fitted and what troubles their sensors every day.
type Sensors struct {
	Pulses      []Volume    `yaml:"pulses"`
	Jitter      Duration    `yaml:"jitter"`
	Lost        Share       `yaml:"lost"`
	Twice       Share       `yaml:"twice"`
	Outages     float64     `yaml:"outages"` // per device and 30 days
	Outage      Duration    `yaml:"outage"`  // mean length
	Buffer      int         `yaml:"buffer"`  // readings kept through one
	Clock       Duration    `yaml:"clock"`   // clocks are up to so much off
	ClockDrift  float64     `yaml:"clock_drift"`
	Resets      float64     `yaml:"resets"` // of the totals, per 30 days
	Wrap        Volume      `yaml:"wrap"`
	Aged        Share       `yaml:"aged"`
	Temperature float64     `yaml:"temperature"` // mm of level per degree
	Fault       sensor.Mode `yaml:"fault"`       // how sensor_fault shows; empty: drawn
}

// Signals is a kit's name or a list of signals.
type Signals struct{ sensor.Set }

// UnmarshalYAML reads the signals.
func (s *Signals) UnmarshalYAML(n *yaml.Node) error {
	set, err := sensor.ParseSet(n.Value)
	s.Set = set
	return at(n, err)
}

// Defaults of a Spec.
const (
	defaultDays     = 90
	defaultInterval = 10 * time.Second
	defaultKit      = "common"
)

// defaults is a corpus about which nothing was said.
func defaults() Spec {
	kit, _ := sensor.ParseSet(defaultKit)
	return Spec{
		Seeds: Seeds{Train: 1, Check: 2}, Start: Day{time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC)},
		Days: defaultDays, Interval: Duration(defaultInterval), Signals: Signals{kit},
		Faults: Faults{Mix: Mix{Word: "none"}, Share: 1, Severity: Range{0.1, 1},
			Onset: Range{0.35, 0.5}, Repaired: Range{0.85, 0.95}, Gradual: 0.5},
	}
}

// Adhoc is a corpus made up on the command line: mix as ParseMix reads it.
func Adhoc(homes, days int, seed uint64, mix string) (Spec, error) {
	s := defaults()
	s.Name, s.Homes, s.Days, s.Seeds = "ad hoc", homes, days, Seeds{Train: seed, Check: seed}
	var err error
	if s.Faults.Mix, err = ParseMix(mix); err != nil {
		return s, err
	}
	return s, s.validate()
}

// Load reads a corpus from a file.
func Load(path string) (Spec, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return Spec{}, err
	}
	return Read(path, bytes.NewReader(text))
}

// Read reads a corpus; name is for messages, which name file and line. An
// unknown key is an error.
func Read(name string, r io.Reader) (Spec, error) {
	s := defaults()
	d := yaml.NewDecoder(r)
	d.KnownFields(true)
	if err := d.Decode(&s); err != nil {
		return s, plain(name, err)
	}
	if err := s.validate(); err != nil {
		return s, fmt.Errorf("%s: %w", name, err)
	}
	return s, nil
}

var yamlLine = regexp.MustCompile(`^line (\d+): (?:field (\S+) not found in type \S+)?(.*)$`)

// plain puts a YAML mistake as file:line: why.
func plain(name string, err error) error {
	var line lineError
	var types *yaml.TypeError
	switch {
	case errors.Is(err, io.EOF):
		return fmt.Errorf("%s: empty", name)
	case errors.As(err, &line):
		return fmt.Errorf("%s:%w", name, line)
	case !errors.As(err, &types):
		return fmt.Errorf("%s: %w", name, err)
	}
	var all []error
	for _, e := range types.Errors {
		m := yamlLine.FindStringSubmatch(e)
		switch {
		case m == nil:
			all = append(all, fmt.Errorf("%s: %s", name, e))
		case m[2] != "":
			all = append(all, fmt.Errorf("%s:%s: unknown key %q", name, m[1], m[2]))
		default:
			all = append(all, fmt.Errorf("%s:%s: %s", name, m[1], m[3]))
		}
	}
	return errors.Join(all...)
}

func (s *Spec) validate() error {
	switch {
	case s.Homes <= 0:
		return errors.New("homes: a corpus needs at least one")
	case s.Days <= 0:
		return errors.New("days: a corpus needs at least one")
	case s.Interval < Duration(time.Second) || s.Interval > Duration(time.Hour):
		return errors.New("interval: between 1 s and 1 h")
	case s.Sensors.Outages < 0 || s.Sensors.Resets < 0 || s.Sensors.Buffer < 0:
		return errors.New("sensors: outages, resets and buffer are not less than nothing")
	case s.Sensors.Fault != "" && !slices.Contains(sensor.Modes(), s.Sensors.Fault):
		return fmt.Errorf("sensors: fault: %q is not one of %v", s.Sensors.Fault, sensor.Modes())
	}
	return nil
}

// HomeYears is how many years of one home the corpus amounts to.
func (s *Spec) HomeYears() float64 { return float64(s.Homes*s.Days) / 365.25 }
