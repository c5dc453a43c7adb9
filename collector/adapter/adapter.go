package adapter

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"brinebell/detect"
)

// Why a payload gives no reading.
var (
	ErrNoNumber = errors.New("no number")
	ErrNoTime   = errors.New("no time")
)

// Adapter turns one sensor's messages into readings. It may be used by several
// goroutines.
type Adapter struct {
	config      Config
	levels      []string
	signal      detect.Signal
	scale       float64
	perSecond   float64
	value, time pointer
}

// Filter is the topic filter to subscribe to.
func (a *Adapter) Filter() string {
	return strings.ReplaceAll(a.config.Topic, homeLevel, "+")
}

// Match says whether a topic is the sensor's, and of which home.
func (a *Adapter) Match(topic string) (home string, ok bool) {
	home = a.config.Home
	for i, level := range a.levels {
		if level == "#" {
			return home, true
		}
		if i > 0 {
			var more bool
			if topic, more = cutLevel(topic); !more {
				return "", false
			}
		}
		head, _, _ := strings.Cut(topic, "/")
		switch {
		case level == homeLevel:
			home = head
		case level != "+" && level != head:
			return "", false
		}
	}
	return home, strings.IndexByte(topic, '/') < 0
}

// cutLevel takes the first level off a topic; more is false if it was the last.
func cutLevel(topic string) (rest string, more bool) {
	_, rest, more = strings.Cut(topic, "/")
	return rest, more
}

// Decode reads a payload that came on a topic that matches with that home; now
// is its time if it says none.
func (a *Adapter) Decode(home string, payload []byte, now time.Time) (detect.Reading, error) {
	r := detect.Reading{Home: home, Signal: a.signal, Time: now}
	var err error
	if a.config.Pointer == "" && a.config.TimePointer == "" {
		r.Value, err = bareNumber(payload)
	} else {
		err = a.decodeJSON(&r, payload)
	}
	if err != nil {
		return r, err
	}
	r.Value = r.Value*a.scale + a.config.Offset
	if a.config.Unit != "" && a.signal.Dimension() != "" {
		if r.Value, err = detect.Convert(r.Value, a.config.Unit, a.signal.Dimension()); err != nil {
			return r, err
		}
	}
	return r, r.Check()
}

// decodeJSON finds the value and the time in a JSON payload.
func (a *Adapter) decodeJSON(r *detect.Reading, payload []byte) error {
	var document any
	d := json.NewDecoder(bytes.NewReader(payload))
	d.UseNumber()
	if err := d.Decode(&document); err != nil {
		return fmt.Errorf("not JSON: %w", err)
	}
	found, err := a.value.in(document)
	if err != nil {
		return err
	}
	if r.Value, err = number(found); err != nil {
		return fmt.Errorf("at %q: %w", a.config.Pointer, err)
	}
	if a.config.TimePointer == "" {
		return nil
	}
	if found, err = a.time.in(document); err != nil {
		return err
	}
	if r.Time, err = a.timeOf(found); err != nil {
		return fmt.Errorf("at %q: %w", a.config.TimePointer, err)
	}
	return nil
}

// number is a JSON number, a number in a string, or 0 and 1 for false and true.
func number(v any) (float64, error) {
	switch v := v.(type) {
	case json.Number:
		return bareNumber([]byte(v))
	case string:
		return bareNumber([]byte(v))
	case bool:
		if v {
			return 1, nil
		}
		return 0, nil
	}
	return 0, ErrNoNumber
}

// bareNumber reads a decimal number with white space round it.
func bareNumber(text []byte) (float64, error) {
	text = bytes.TrimSpace(text)
	for _, c := range text {
		if (c < '0' || c > '9') && strings.IndexByte("+-.eE", c) < 0 {
			return 0, fmt.Errorf("%w: %.40q", ErrNoNumber, text)
		}
	}
	v, err := strconv.ParseFloat(string(text), 64)
	if err != nil {
		return 0, fmt.Errorf("%w: %.40q", ErrNoNumber, text)
	}
	return v, nil
}

// timeOf is RFC 3339 text or a Unix time, to the microsecond.
func (a *Adapter) timeOf(v any) (time.Time, error) {
	if text, ok := v.(string); ok {
		if t, err := time.Parse(time.RFC3339, text); err == nil {
			return t.UTC(), nil
		}
	}
	n, err := number(v)
	if err != nil || math.Abs(n/a.perSecond) > 1<<40 {
		return time.Time{}, ErrNoTime
	}
	return time.UnixMicro(int64(math.Round(n / a.perSecond * 1e6))).UTC(), nil
}
