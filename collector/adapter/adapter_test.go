package adapter

import (
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"go.yaml.in/yaml/v3"

	"brinebell/detect"
)

var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

func TestDecode(t *testing.T) {
	for name, c := range map[string]struct {
		config, topic, payload string
		want                   detect.Reading
	}{
		"bare number": {"{topic: 'meters/{home}/main', signal: inlet_volume, unit: gal, scale: 0.1}", "meters/h/main", " 1234\n",
			detect.Reading{Home: "h", Signal: detect.InletVolume, Time: noon, Value: 123.4 * 3.785411784}}, // US gallon: NIST SP 811, appendix B.8
		"in JSON": {"{topic: 'tanks/#', home: h, signal: brine_level, pointer: /d/0/level, time_pointer: /t, unit: cm, offset: -2}", "tanks/1/x", `{"d":[{"level":23.5}],"t":"2026-03-01T13:00:00+01:00"}`,
			detect.Reading{Home: "h", Signal: detect.BrineLevel, Time: noon, Value: 215}},
		"Unix time": {"{topic: 'a/+/b', home: h, signal: water_temperature, pointer: /v, time_pointer: /t, time_unit: ms, unit: degF}", "a/z/b", `{"v":"50","t":1772366400000}`,
			detect.Reading{Home: "h", Signal: detect.WaterTemperature, Time: noon, Value: 10}},
		"truth": {"{topic: floor, home: h, signal: floor_wet, pointer: /wet}", "floor", `{"wet":true}`,
			detect.Reading{Home: "h", Signal: detect.FloorWet, Time: noon, Value: 1}},
		"canonical unit named": {"{topic: floor, home: h, signal: battery, unit: '%'}", "floor", `55`,
			detect.Reading{Home: "h", Signal: detect.Battery, Time: noon, Value: 55}},
		"bare number with empty pointer and a time": {"{topic: x, home: h, signal: valve_power, pointer: '/w~1h', time_pointer: /t}", "x", `{"w/h":3,"t":1772366400.5}`,
			detect.Reading{Home: "h", Signal: detect.ValvePower, Time: noon.Add(500 * time.Millisecond), Value: 3}},
	} {
		a := configured(t, c.config)
		home, ok := a.Match(c.topic)
		got, err := a.Decode(home, []byte(c.payload), noon)
		if !ok || err != nil || math.Abs(got.Value-c.want.Value) > 1e-9 {
			t.Errorf("%s: %v %v %v, want %v", name, got, ok, err, c.want)
			continue
		}
		got.Value = c.want.Value
		if got != c.want {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
}

func configured(t *testing.T, text string) *Adapter {
	t.Helper()
	var c Config
	if err := yaml.Unmarshal([]byte(text), &c); err != nil {
		t.Fatal(err)
	}
	a, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func TestUndecodable(t *testing.T) {
	a := configured(t, "{topic: x, home: h, signal: brine_level, pointer: /v, time_pointer: /t}")
	for _, payload := range []string{"", "{", "5", `{"v":5}`, `{"t":5}`, `{"v":[],"t":1}`, `{"v":5,"t":"noon"}`, `{"v":5,"t":1e300}`, `{"v":"0x5","t":1772366400}`, `{"v":5,"t":86400}`} {
		if got, err := a.Decode("h", []byte(payload), noon); err == nil {
			t.Errorf("%s is %v", payload, got)
		}
	}
	bare := configured(t, "{topic: x, home: h, signal: brine_level}")
	for _, payload := range []string{"", "x", "NaN", "1e999", "5 mm", "Infinity"} {
		if got, err := bare.Decode("h", []byte(payload), noon); !errors.Is(err, ErrNoNumber) {
			t.Errorf("%s is %v %v", payload, got, err)
		}
	}
}

func TestConfigErrors(t *testing.T) {
	for text, want := range map[string]string{
		"{topic: x, home: h, signal: pump}":                                      "unknown signal",
		"{home: h, signal: battery}":                                             "no topic",
		"{topic: x, signal: battery}":                                            "no home",
		"{topic: '{home}', home: h, signal: battery}":                            "both",
		"{topic: '{home}/{home}', signal: battery}":                              "twice",
		"{topic: 'a/#/b', home: h, signal: battery}":                             "last level",
		"{topic: 'a/b+', home: h, signal: battery}":                              "mixes",
		"{topic: 'a/x{home}', home: h, signal: battery}":                         "mixes",
		"{topic: x, home: h, signal: battery, unit: V}":                          "always in %",
		"{topic: x, home: h, signal: inlet_flow, unit: furlong}":                 "unknown unit",
		"{topic: x, home: h, signal: battery, pointer: v}":                       "begin with /",
		"{topic: x, home: h, signal: battery, time_pointer: '/~2'}":              "~0 nor ~1",
		"{topic: x, home: h, signal: battery, time_pointer: /t, time_unit: min}": "time_unit",
	} {
		var c Config
		if err := yaml.Unmarshal([]byte(text), &c); err != nil {
			t.Fatal(err)
		}
		if _, err := New(c); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q in it", text, err, want)
		}
	}
}

// TestMatch holds topics against the examples of MQTT 3.1.1, section 4.7.1.2
// and 4.7.1.3.
func TestMatch(t *testing.T) {
	for _, c := range []struct {
		filter, topic string
		want          bool
	}{
		{"sport/tennis/player1/#", "sport/tennis/player1", true},
		{"sport/tennis/player1/#", "sport/tennis/player1/ranking", true},
		{"sport/tennis/player1/#", "sport/tennis/player1/score/wimbledon", true},
		{"sport/#", "sport", true},
		{"sport/tennis/+", "sport/tennis/player1", true},
		{"sport/tennis/+", "sport/tennis/player1/ranking", false},
		{"sport/+", "sport", false},
		{"sport/+", "sport/", true},
		{"+/+", "/finance", true},
		{"/+", "/finance", true},
		{"+", "/finance", false},
	} {
		a, err := New(Config{Topic: c.filter, Home: "h", Signal: "battery"})
		if err != nil {
			t.Fatal(err)
		}
		if _, got := a.Match(c.topic); got != c.want {
			t.Errorf("%s matches %s: %v, want %v", c.filter, c.topic, got, c.want)
		}
	}
	a := configured(t, "{topic: 'a/{home}/+/c', signal: battery}")
	if home, ok := a.Match("a/x/b/c"); !ok || home != "x" || a.Filter() != "a/+/+/c" {
		t.Errorf("%s %v %s", home, ok, a.Filter())
	}
}

// TestPointer is the table of RFC 6901, section 5.
func TestPointer(t *testing.T) {
	var document any
	if err := json.Unmarshal([]byte(`{"foo":["bar","baz"],"":0,"a/b":1,"c%d":2,"e^f":3,"g|h":4,"i\\j":5,"k\"l":6," ":7,"m~n":8}`), &document); err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string]any{
		"/foo/0": "bar", "/": 0.0, "/a~1b": 1.0, "/c%d": 2.0, "/e^f": 3.0, "/g|h": 4.0, "/i\\j": 5.0, "/k\"l": 6.0, "/ ": 7.0, "/m~0n": 8.0,
	} {
		p, err := parsePointer(text)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := p.in(document); err != nil || got != want {
			t.Errorf("%s is %v %v, want %v", text, got, err, want)
		}
	}
	for _, text := range []string{"/foo/2", "/foo/00", "/foo/-", "/foo/+1", "/bar", "/foo/0/x"} {
		p, err := parsePointer(text)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := p.in(document); err == nil {
			t.Errorf("%s is %v", text, got)
		}
	}
}
