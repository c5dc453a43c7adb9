package senml

import (
	"bytes"
	"fmt"
	"math"
	"time"

	"brinebell/detect"
)

// relativeBelow is the time in seconds below which a record's time is relative
// to the present (RFC 8428, section 4.5.3).
const relativeBelow = 1 << 28

// mean makes a resolved record its readings: that of its value, and that of its
// sum. The reason is empty when it made at least one and nothing was wrong.
func (d *Decoder) mean(r resolved, raw *record, now time.Time) (Reason, string) {
	if raw.fault != "" {
		return BadField, raw.fault
	}
	home, name, ok := split(r.prefix, r.suffix)
	if !ok {
		return BadName, fmt.Sprintf("the name %.80q is not home/device/signal", string(r.prefix)+string(r.suffix))
	}
	signal, err := detect.ParseSignal(string(name))
	if err != nil {
		return UnknownSignal, err.Error()
	}
	at, reason, detail := when(r.time, now)
	if reason != "" {
		return reason, detail
	}
	if !r.hasValue && !r.hasSum {
		return BadValue, "neither a value nor a sum"
	}
	reading := detect.Reading{Home: d.home(home), Signal: signal, Time: at}
	if r.hasValue {
		if reason, detail := d.addValue(reading, r); reason != "" {
			return reason, detail
		}
	}
	if r.hasSum {
		return d.addSum(reading, r)
	}
	return "", ""
}

// split takes prefix+suffix apart at its first and last slash, without joining
// them unless a part crosses the seam.
func split(prefix, suffix []byte) (home, signal []byte, ok bool) {
	if len(prefix) == 0 || prefix[len(prefix)-1] != '/' || bytes.IndexByte(suffix, '/') >= 0 {
		prefix, suffix = nil, append(append([]byte(nil), prefix...), suffix...)
	}
	path := prefix
	if len(path) == 0 {
		cut := bytes.LastIndexByte(suffix, '/')
		path, suffix = suffix[:cut+1], suffix[cut+1:]
	}
	first := bytes.IndexByte(path, '/')
	if first <= 0 || len(path)-first < 3 || len(suffix) == 0 {
		return nil, nil, false
	}
	return path[:first], suffix, true
}

// when is the record's time, to the microsecond: seconds since 1970 as a
// float64 hold no more, and a whole millisecond may lie just under itself.
func when(seconds float64, now time.Time) (at time.Time, reason Reason, detail string) {
	if math.IsNaN(seconds) || math.Abs(seconds) > 1<<40 {
		return at, BadTime, detect.ErrTimeRange.Error()
	}
	offset := time.Duration(math.Round(math.Abs(seconds)*1e6)) * time.Microsecond
	if seconds < 0 {
		offset = -offset
	}
	switch {
	case seconds >= relativeBelow:
		at = time.Unix(0, 0).Add(offset)
	case now.IsZero():
		return at, RelativeTime, "a time relative to the present, which is not known here"
	default:
		at = now.Add(offset)
	}
	at = at.UTC()
	if err := (detect.Reading{Time: at}).Check(); err != nil {
		return at, BadTime, err.Error()
	}
	return at, "", ""
}

// addValue adds the reading of the record's value.
func (d *Decoder) addValue(reading detect.Reading, r resolved) (Reason, string) {
	if r.boolean && reading.Signal != detect.FloorWet {
		return BadValue, fmt.Sprintf("%s is not true or false", reading.Signal)
	}
	u, ok := findUnit(reading.Signal, r.unit)
	if !ok && !r.boolean {
		return badUnit(reading.Signal, r.unit)
	}
	reading.Value = r.value
	if !r.boolean {
		reading.Value = u.convert(r.value)
	}
	return d.add(reading)
}

// addSum adds the running total that the record's sum is.
func (d *Decoder) addSum(reading detect.Reading, r resolved) (Reason, string) {
	point, pipe := reading.Signal.FlowPoint()
	if !pipe {
		return BadValue, fmt.Sprintf("%s has no sum", reading.Signal)
	}
	litresPer, ok := 0.0, true
	switch string(r.unit) {
	case "l/s", "l":
		litresPer = 1
	case "m3/s", "m3":
		litresPer = 1000
	default:
		ok = false
	}
	if _, known := findUnit(reading.Signal, r.unit); !ok || !known && !reading.Signal.IsTotal() {
		return badUnit(reading.Signal, r.unit)
	}
	if reading.Signal.IsTotal() && r.hasValue {
		return "", "" // the value has said it
	}
	reading.Signal, reading.Value = total(point), r.sum*litresPer
	return d.add(reading)
}

func (d *Decoder) add(reading detect.Reading) (Reason, string) {
	if err := reading.Check(); err != nil {
		return BadValue, err.Error()
	}
	if reading.Signal == detect.FloorWet && reading.Value != 0 && reading.Value != 1 {
		return BadValue, "floor_wet is neither 0 nor 1"
	}
	d.readings = append(d.readings, reading)
	return "", ""
}

func badUnit(s detect.Signal, name []byte) (Reason, string) {
	var known []string
	for _, u := range unitsOf(s) {
		if u.name != "" {
			known = append(known, u.name)
		}
	}
	return BadUnit, fmt.Sprintf("the unit %.20q does not fit %s: use one of %v", name, s, known)
}
