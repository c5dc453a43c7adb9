package detect

import (
	"strings"
	"testing"
)

// The first is the pair that Wagner and Fischer's algorithm is usually shown on.
func TestEdits(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"kitten", "sitting", 3}, {"", "abc", 3}, {"abc", "", 3}, {"flow", "flow", 0}, {"drain_flw", "drain_flow", 1}} {
		if got := edits(c.a, c.b); got != c.want {
			t.Errorf("edits(%q, %q) = %d, want %d", c.a, c.b, got, c.want)
		}
	}
}

func TestNearestSignal(t *testing.T) {
	for name, want := range map[string]Signal{
		"inlet_volumes": InletVolume, "Inlet-Flow": InletFlow, "brinelevel": BrineLevel, "watertemperature": WaterTemperature,
		"battery_": Battery, "salt_lvl": SaltLevel, "drain volume": DrainVolume,
	} {
		if got, ok := NearestSignal(name); !ok || got != want {
			t.Errorf("nearest to %q is %v (%v), want %v", name, got, ok, want)
		}
	}
	for _, name := range []string{"", "x", "pressure_of_the_pump", strings.Repeat("inlet_flow", 1000)} {
		if got, ok := NearestSignal(name); ok {
			t.Errorf("%q is taken for %v", name, got)
		}
	}
}

func TestUnknownSignalSaysWhatThereIs(t *testing.T) {
	if _, err := ParseSignal("inlet_flwo"); err == nil || !strings.Contains(err.Error(), "inlet_flow is near") {
		t.Error(err)
	}
	if _, err := ParseSignal("humidity"); err == nil || !strings.Contains(err.Error(), "brine_level") || !strings.Contains(err.Error(), "floor_wet") {
		t.Error(err)
	}
}
