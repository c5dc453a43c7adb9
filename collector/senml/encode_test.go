package senml

import (
	"math"
	"testing"
	"time"

	"github.com/fxamacker/cbor/v2"
	"pgregory.net/rapid"

	"brinebell/detect"
)

func TestEncoded(t *testing.T) {
	got, err := AppendJSON(nil, "meter", []detect.Reading{
		{Home: "mill-lane-4", Signal: detect.InletVolume, Time: noon.Add(250 * time.Millisecond), Value: 1500},
		{Home: "mill-lane-4", Signal: detect.OutletPressure, Time: noon, Value: 350},
	})
	want := `[{"bn":"mill-lane-4/meter/","bt":1772366400.250,"n":"inlet_volume","u":"m3","v":1.5},` +
		`{"n":"outlet_pressure","u":"Pa","v":350000,"t":-0.250}]`
	if err != nil || string(got) != want {
		t.Errorf("%s %v, want %s", got, err, want)
	}
	if _, err := AppendJSON(nil, "d", []detect.Reading{{Home: "a", Time: noon}, {Home: "b", Time: noon}}); err == nil {
		t.Error("two homes in one pack")
	}
	if _, err := AppendJSON(nil, "d", []detect.Reading{{Home: "a", Time: noon, Value: math.NaN()}}); err == nil {
		t.Error("a value that is no number")
	}
}

// TestDecimalsComeBackExactly goes through what meters of litre pulses, of tenths
// and of thousandths show.
func TestDecimalsComeBackExactly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		value := float64(rapid.Int64Range(-1e12, 1e12).Draw(t, "n")) / []float64{1, 10, 1000}[rapid.IntRange(0, 2).Draw(t, "scale")]
		for s := range detect.NumSignals {
			if s == detect.FloorWet {
				continue
			}
			data, err := AppendJSON(nil, "d", []detect.Reading{{Home: "h", Signal: s, Time: noon, Value: value}})
			if err != nil {
				t.Fatal(err)
			}
			pack, err := new(Decoder).JSON(data, time.Time{})
			if flow := s.Unit() == "L/min"; err != nil || len(pack.Readings) != 1 || pack.Readings[0].Value != value && !flow {
				t.Fatalf("%s: %v %v, want %v", data, pack, err, value)
			}
		}
	})
}

func drawReadings(t *rapid.T) []detect.Reading {
	home := rapid.StringMatching(`[a-z0-9-]{1,8}`).Draw(t, "home")
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) detect.Reading {
		r := detect.Reading{Home: home, Signal: detect.Signal(rapid.IntRange(0, int(detect.NumSignals)-1).Draw(t, "signal")),
			Time:  noon.Add(time.Duration(rapid.IntRange(-1e9, 1e9).Draw(t, "ms")) * time.Millisecond),
			Value: rapid.Float64Range(-1e6, 1e6).Draw(t, "value")}
		if r.Signal == detect.FloorWet {
			r.Value = float64(rapid.IntRange(0, 1).Draw(t, "wet"))
		}
		return r
	}), 1, 20).Draw(t, "readings")
}

func TestWhatIsEncodedDecodesTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		readings := drawReadings(t)
		data, err := AppendJSON(nil, "d", readings)
		if err != nil {
			t.Fatal(err)
		}
		pack, err := new(Decoder).Any(data, time.Time{})
		if err != nil || len(pack.Bad) > 0 || len(pack.Readings) != len(readings) {
			t.Fatalf("%s: %v %v", data, pack, err)
		}
		for i, want := range readings {
			got := pack.Readings[i]
			if math.Abs(got.Value-want.Value) > 1e-14*math.Abs(want.Value)+1e-300 {
				t.Fatalf("%v became %v", want, got)
			}
			got.Value = want.Value
			if got != want {
				t.Fatalf("%v became %v", want, got)
			}
		}
	})
}

// TestCBORSaysTheSameAsJSON encodes packs with the CBOR library, labels by
// number, and holds the decoder's two sides against each other.
func TestCBORSaysTheSameAsJSON(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		readings := drawReadings(t)
		var pack []map[int]any
		for _, r := range readings {
			u := unitsOf(r.Signal)[0]
			pack = append(pack, map[int]any{-2: r.Home + "/d/", 0: r.Signal.String(), 1: u.name, 2: u.invert(r.Value),
				6: float64(r.Time.UnixMilli()) / 1000})
		}
		data, err := cbor.Marshal(pack)
		if err != nil {
			t.Fatal(err)
		}
		text, err := AppendJSON(nil, "d", readings)
		if err != nil {
			t.Fatal(err)
		}
		var a, b Decoder
		got, err := a.Any(data, time.Time{})
		if err != nil || len(got.Bad) > 0 {
			t.Fatal(got, err)
		}
		want, err := b.Any(text, time.Time{})
		if err != nil || len(want.Readings) != len(got.Readings) {
			t.Fatal(want, err)
		}
		for i := range want.Readings {
			if got.Readings[i] != want.Readings[i] {
				t.Fatalf("CBOR says %v, JSON %v", got.Readings[i], want.Readings[i])
			}
		}
	})
}
