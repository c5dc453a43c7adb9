package senml

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/fxamacker/cbor/v2"

	"brinebell/detect"
)

var (
	noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	at   = "1772366400" // noon
)

func decode(t *testing.T, text string) Pack {
	t.Helper()
	pack, err := new(Decoder).JSON([]byte(text), noon)
	if err != nil {
		t.Fatalf("%s: %v", text, err)
	}
	return pack
}

func TestUnitsBecomeCanonical(t *testing.T) {
	// Factors between SI and canonical units are exact by definition; units are
	// those of the IANA SenML units registry and of RFC 8798.
	for _, c := range []struct {
		signal, unit string
		value, want  float64
	}{
		{"inlet_flow", "l/s", 0.25, 15},
		{"drain_flow", "m3/s", 1.5e-4, 9},
		{"service_volume", "l", 1234.5, 1234.5},
		{"service_volume", "m3", 1.2345, 1234.5},
		{"service_volume", "m3", 1.001, 1001},
		{"brine_level", "m", 0.21, 210},
		{"salt_level", "mm", 410, 410},
		{"inlet_pressure", "Pa", 350000, 350},
		{"outlet_pressure", "hPa", 3500, 350},
		{"valve_power", "W", 3.5, 3.5},
		{"raw_hardness", "mg/l", 300, 300},
		{"cold_hardness", "kg/m3", 0.3, 300},
		{"raw_iron", "mg/l", 0.2, 0.2},
		{"soft_conductivity", "S/m", 0.05, 500},
		{"water_temperature", "Cel", 12.5, 12.5},
		{"water_temperature", "K", 285.65, 12.5},
		{"floor_wet", "/", 1, 1},
		{"floor_wet", "", 0, 0},
		{"battery", "%EL", 87, 87},
		{"battery", "/", 0.87, 87},
	} {
		pack := decode(t, `[{"n":"h/d/`+c.signal+`","u":"`+c.unit+`","t":`+at+`,"v":`+format(c.value)+`}]`)
		if len(pack.Readings) != 1 {
			t.Errorf("%+v: %v", c, pack.Bad)
			continue
		}
		got := pack.Readings[0]
		if got.Signal.String() != c.signal || got.Home != "h" || !got.Time.Equal(noon) || math.Abs(got.Value-c.want) > 1e-14*c.want && c.unit != "K" || math.Abs(got.Value-c.want) > 1e-12*c.want {
			t.Errorf("%+v is %v", c, got)
		}
	}
}

func format(v float64) string { return string(appendFloat(nil, v)) }

func TestTimes(t *testing.T) {
	for text, want := range map[string]time.Time{
		`"t":-5`:                      noon.Add(-5 * time.Second), // RFC 8428, section 4.5.3: relative to now
		`"v":1`:                       noon,                       // no time at all is now
		`"bt":` + at + `,"t":-0.25`:   noon.Add(-250 * time.Millisecond),
		`"t":1772366400.123`:          noon.Add(123 * time.Millisecond), // not .122999
		`"bt":1.7723664e9,"t":0.123`:  noon.Add(123 * time.Millisecond),
		`"bt":-10,"t":4`:              noon.Add(-6 * time.Second),
		`"t":268435456`:               time.Time{}, // 1978: absolute, and no measurement
		`"t":99999999999`:             time.Time{},
		`"t":1e300`:                   time.Time{},
		`"bt":1e308,"t":1e308`:        time.Time{},
		`"bt":-1e308,"bv":1,"t":-1e8`: time.Time{},
	} {
		text = strings.Replace(`[{"n":"h/d/floor_wet","u":"/",X}]`, "X", text, 1)
		if !strings.Contains(text, `"v"`) {
			text = strings.Replace(text, "}]", `,"v":1}]`, 1)
		}
		pack := decode(t, text)
		switch {
		case want.IsZero():
			if len(pack.Bad) != 1 || pack.Bad[0].Reason != BadTime {
				t.Errorf("%s is %v, want a bad time", text, pack)
			}
		case len(pack.Readings) != 1 || !pack.Readings[0].Time.Equal(want):
			t.Errorf("%s is %v, want %v", text, pack, want)
		}
	}
	pack, err := new(Decoder).JSON([]byte(`[{"n":"h/d/floor_wet","v":1}]`), time.Time{})
	if err != nil || len(pack.Bad) != 1 || pack.Bad[0].Reason != RelativeTime {
		t.Errorf("%v %v, want a relative time refused without a present", pack, err)
	}
}

func TestSums(t *testing.T) {
	for text, want := range map[string]string{
		`"n":"inlet_volume","u":"l/s","s":12.5`:           "inlet_volume 12.5",
		`"n":"inlet_volume","u":"m3/s","s":0.5`:           "inlet_volume 500",
		`"n":"inlet_volume","u":"l","s":12.5`:             "inlet_volume 12.5",
		`"n":"inlet_volume","u":"l","v":3,"s":12.5`:       "inlet_volume 3",
		`"n":"drain_flow","u":"l/s","v":0.1,"s":7`:        "drain_flow 6;drain_volume 7",
		`"bs":100,"n":"service_flow","u":"l/s","s":7`:     "service_volume 107",
		`"bs":100,"n":"service_volume","u":"l"`:           "service_volume 100",
		`"n":"drain_flow","u":"l","s":7`:                  "bad_unit",
		`"n":"brine_level","u":"mm","s":7`:                "bad_value",
		`"n":"floor_wet","vb":true`:                       "floor_wet 1",
		`"n":"inlet_flow","u":"l/s","vb":true`:            "bad_value",
		`"n":"floor_wet","u":"/","v":0.5`:                 "bad_value",
		`"bv":200,"n":"brine_level","u":"mm","v":10`:      "brine_level 210",
		`"bv":200,"n":"brine_level","u":"mm"`:             "brine_level 200",
		`"bv":200,"n":"service_volume","u":"l/s","s":1.5`: "service_volume 1.5",
	} {
		var got []string
		pack := decode(t, `[{"bn":"h/d/","bt":`+at+`,`+text+`}]`)
		for _, r := range pack.Readings {
			got = append(got, r.Signal.String()+" "+format(r.Value))
		}
		for _, b := range pack.Bad {
			got = append(got, string(b.Reason))
		}
		if joined := strings.Join(got, ";"); joined != want {
			t.Errorf("%s is %q, want %q", text, joined, want)
		}
	}
}

func TestOneBadRecordKeepsTheOthers(t *testing.T) {
	pack := decode(t, `[{"bn":"mill-lane-4/meter/","bt":`+at+`,"n":"inlet_flow","u":"l/s","v":0.1},
	  {"n":"inlet_flow","u":"gal/min","v":1},
	  {"n":"inlet_flow","u":"l/s","v":"much"},
	  {"n":"inlet_flow","u":"l/s","vs":"much"},
	  {"n":"pump_speed","u":"l/s","v":1},
	  {"n":"inlet_volume","u":"l","v":5,"future":[1,{}]}]`)
	if len(pack.Readings) != 2 || pack.Readings[1].Signal != detect.InletVolume {
		t.Errorf("readings %v, want the first and the last", pack.Readings)
	}
	want := []RecordError{{Index: 1, Reason: BadUnit}, {Index: 2, Reason: BadField}, {Index: 3, Reason: BadValue}, {Index: 4, Reason: UnknownSignal}}
	if len(pack.Bad) != len(want) {
		t.Fatalf("bad %v", pack.Bad)
	}
	for i, w := range want {
		if got := pack.Bad[i]; got.Index != w.Index || got.Reason != w.Reason || got.Detail == "" {
			t.Errorf("bad %+v, want %+v", got, w)
		}
	}
}

func TestNames(t *testing.T) {
	for name, ok := range map[string]bool{
		`"bn":"h/","n":"d/battery"`: true, `"bn":"h/d/bat","n":"tery"`: true, `"n":"h/d/battery"`: true,
		`"bn":"h/d/battery"`: true, `"bn":"h/a/b/","n":"battery"`: true,
		`"n":"battery"`: false, `"n":"h/battery"`: false, `"n":"/d/battery"`: false, `"n":"h//battery"`: false,
		`"bn":"h/d/","n":""`: false, `"bn":""`: false,
	} {
		pack := decode(t, `[{`+name+`,"u":"%EL","v":50}]`)
		if got := len(pack.Readings) == 1 && pack.Readings[0].Home == "h"; got != ok {
			t.Errorf("%s is %v, want %v", name, pack, ok)
		}
	}
}

func TestRefusedPacks(t *testing.T) {
	for text, want := range map[string]error{
		``: ErrSyntax, `{}`: ErrSyntax, `[1]`: ErrSyntax, `[{}`: ErrSyntax, `[{}]x`: ErrSyntax, `[{"n":"a","n":"b"}]`: ErrSyntax,
		`[{"bn":1}]`: ErrSyntax, `[{"bt":"now"}]`: ErrSyntax, `[{"bver":"x"}]`: ErrSyntax,
		`[{"bver":11}]`: ErrVersion, `[{"n":"a"},{"must_":1}]`: ErrMandatory,
	} {
		if pack, err := new(Decoder).JSON([]byte(text), noon); !errors.Is(err, want) {
			t.Errorf("%s is %v %v, want %v", text, pack, err, want)
		}
	}
	for _, object := range []any{[]int{1}, 5, []any{nil}, []any{map[int]any{-2: 5}}, []any{map[string]any{"must_": 1}}} {
		data, err := cbor.Marshal(object)
		if err != nil {
			t.Fatal(err)
		}
		if pack, err := new(Decoder).CBOR(data, noon); err == nil {
			t.Errorf("%v is %v, want it refused", object, pack)
		}
	}
}

func TestSecondaryUnitsVersion(t *testing.T) {
	// RFC 9100, section 6: version 10 with feature 4 is written 26.
	if pack := decode(t, `[{"bver":26,"n":"h/d/brine_level","u":"mm","v":50}]`); len(pack.Readings) != 1 {
		t.Errorf("%v", pack)
	}
}
