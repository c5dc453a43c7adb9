package intake

import (
	"fmt"
	"strings"
	"time"

	"brinebell/collector/adapter"
	"brinebell/collector/senml"
	"brinebell/detect"
)

// NativeFilter is the topic filter of sensors that speak SenML:
// homes/<home>/sensors/<device>.
const NativeFilter = "homes/+/sensors/+"

// fault is a part of a message that was not used.
type fault struct {
	reason Reason
	detail string
}

// decoder reads payloads of every known topic.
type decoder struct {
	adapters []*adapter.Adapter
	senml    senml.Decoder
}

// decode appends the readings of a message to readings and its faults to
// faults.
func (d *decoder) decode(m *Message, now time.Time, readings []detect.Reading, faults []fault) ([]detect.Reading, []fault) {
	if home, ok := nativeHome(m.Topic); ok {
		return d.native(m, home, now, readings, faults)
	}
	known := false
	for _, a := range d.adapters {
		home, ok := a.Match(m.Topic)
		if !ok {
			continue
		}
		known = true
		r, err := a.Decode(home, m.Payload, now)
		if err != nil {
			faults = append(faults, fault{BadPayload, err.Error()})
			continue
		}
		readings = append(readings, r)
	}
	if !known {
		faults = append(faults, fault{UnknownTopic, "no sensor is configured for this topic"})
	}
	return readings, faults
}

// native decodes a SenML pack, all of which must be of the topic's home.
func (d *decoder) native(m *Message, home string, now time.Time, readings []detect.Reading, faults []fault) ([]detect.Reading, []fault) {
	pack, err := d.senml.Any(m.Payload, now)
	if err != nil {
		return readings, append(faults, fault{BadPayload, err.Error()})
	}
	for _, b := range pack.Bad {
		faults = append(faults, fault{Reason(b.Reason), b.Error()})
	}
	for _, r := range pack.Readings {
		if r.Home != home {
			faults = append(faults, fault{WrongHome, fmt.Sprintf("a reading of home %.40q", r.Home)})
			continue
		}
		readings = append(readings, r)
	}
	return readings, faults
}

// nativeHome is the home of a topic homes/<home>/sensors/<device>.
func nativeHome(topic string) (home string, ok bool) {
	rest, ok := strings.CutPrefix(topic, "homes/")
	if !ok {
		return "", false
	}
	home, rest, ok = strings.Cut(rest, "/")
	if !ok || home == "" {
		return "", false
	}
	device, ok := strings.CutPrefix(rest, "sensors/")
	return home, ok && device != "" && !strings.Contains(device, "/")
}

// Filters are the topic filters to subscribe to, without doubles.
func Filters(adapters []*adapter.Adapter) []string {
	filters := []string{NativeFilter}
	seen := map[string]bool{NativeFilter: true}
	for _, a := range adapters {
		if f := a.Filter(); !seen[f] {
			seen[f] = true
			filters = append(filters, f)
		}
	}
	return filters
}

// HomeOf is the home that every reading on a topic is of; ok is false when that
// is no topic of ours, or readings on it are of several homes.
func HomeOf(adapters []*adapter.Adapter, topic string) (home string, ok bool) {
	if home, ok := nativeHome(topic); ok {
		return home, true
	}
	for _, a := range adapters {
		h, matches := a.Match(topic)
		if matches && ok && h != home {
			return "", false
		}
		if matches {
			home, ok = h, true
		}
	}
	return home, ok
}

// Wants says whether a topic is one that the intake reads.
func Wants(adapters []*adapter.Adapter, topic string) bool {
	if _, ok := nativeHome(topic); ok {
		return true
	}
	for _, a := range adapters {
		if _, ok := a.Match(topic); ok {
			return true
		}
	}
	return false
}
