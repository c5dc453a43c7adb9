package adapter

import (
	"errors"
	"fmt"
	"strings"

	"brinebell/detect"
)

// Config maps one sensor's topic and payload to a signal.
type Config struct {
	// Topic is an MQTT topic filter: + stands for one level, a # at the end for
	// any number. The level {home} stands for the home's id.
	Topic string `yaml:"topic" doc:"topic pattern: + is any level, a # at the end any levels, {home} the home's id"`
	// Home is the id of the home, when the topic has no {home}.
	Home string `yaml:"home" doc:"id of the home, when the topic has no {home}"`
	// Signal is the identifier of the signal.
	Signal string `yaml:"signal" doc:"the signal; see brinebell help signals"`
	// Pointer is where the value is in a JSON payload (RFC 6901). Empty means
	// that the payload is the value.
	Pointer string `yaml:"pointer" doc:"where the value is in a JSON payload (RFC 6901), as in /total_gal; none: the payload is the number"`
	// TimePointer is where the time of measurement is in a JSON payload: RFC
	// 3339, or Unix time in TimeUnit. Empty means the time of arrival.
	TimePointer string `yaml:"time_pointer" doc:"where the time of measurement is; none: the time of arrival"`
	// TimeUnit of a Unix time: s, the default, or ms.
	TimeUnit string `yaml:"time_unit" doc:"of a Unix time: s or ms; s when left out"`
	// Unit of the value; the signal's canonical unit when empty.
	Unit string `yaml:"unit" doc:"of the value; the signal's own when left out"`
	// Scale multiplies the number first; 1 when 0 or left out.
	Scale float64 `yaml:"scale" doc:"multiplies the number first; 1 when left out"`
	// Offset, in Unit, is added then.
	Offset float64 `yaml:"offset" doc:"added then, in unit"`
}

// homeLevel is the level of a topic pattern that stands for the home's id.
const homeLevel = "{home}"

// New makes the adapter of a configuration, or says what is wrong with it.
func New(c Config) (*Adapter, error) {
	if err := c.validate(); err != nil {
		return nil, fmt.Errorf("adapter for topic %q: %w", c.Topic, err)
	}
	signal, _ := detect.ParseSignal(c.Signal)
	a := &Adapter{config: c, levels: strings.Split(c.Topic, "/"), signal: signal, scale: c.Scale, perSecond: 1}
	if a.scale == 0 {
		a.scale = 1
	}
	if c.TimeUnit == "ms" {
		a.perSecond = 1000
	}
	a.value, _ = parsePointer(c.Pointer)
	a.time, _ = parsePointer(c.TimePointer)
	return a, nil
}

func (c Config) validate() error {
	signal, err := detect.ParseSignal(c.Signal)
	if err != nil {
		return err
	}
	if _, err := parsePointer(c.Pointer); err != nil {
		return fmt.Errorf("pointer: %w", err)
	}
	if _, err := parsePointer(c.TimePointer); err != nil {
		return fmt.Errorf("time_pointer: %w", err)
	}
	if c.TimeUnit != "" && c.TimeUnit != "s" && c.TimeUnit != "ms" {
		return fmt.Errorf("time_unit %q is neither s nor ms", c.TimeUnit)
	}
	if err := c.validateUnit(signal); err != nil {
		return fmt.Errorf("unit: %w", err)
	}
	return c.validateTopic()
}

func (c Config) validateUnit(signal detect.Signal) error {
	if c.Unit == "" || c.Unit == signal.Unit() {
		return nil
	}
	if signal.Dimension() == "" {
		return fmt.Errorf("%s is always in %s", signal, signal.Unit())
	}
	_, err := detect.Convert(0, c.Unit, signal.Dimension())
	return err
}

// validateTopic holds the topic against MQTT 3.1.1, section 4.7.1.
func (c Config) validateTopic() error {
	if c.Topic == "" {
		return errors.New("no topic")
	}
	homes := 0
	levels := strings.Split(c.Topic, "/")
	for i, level := range levels {
		switch {
		case level == homeLevel:
			homes++
		case level == "#" && i < len(levels)-1:
			return errors.New("a # can only be the last level")
		case level != "+" && level != "#" && strings.ContainsAny(level, "+#{}\x00"):
			return fmt.Errorf("level %q mixes a wildcard with text", level)
		}
	}
	switch {
	case homes > 1:
		return errors.New("{home} stands twice in the topic")
	case homes == 1 && c.Home != "":
		return errors.New("the home is given both in the topic and by itself")
	case homes == 0 && c.Home == "":
		return errors.New("no home: put {home} into the topic or give home")
	}
	return nil
}
