package sensor

import (
	"fmt"
	"strings"

	"brinebell/detect"
)

// Set is a set of signals.
type Set uint32

// Of is the set of the given signals.
func Of(signals ...detect.Signal) (s Set) {
	for _, x := range signals {
		s |= 1 << x
	}
	return s
}

// Has says whether the signal is in the set.
func (s Set) Has(x detect.Signal) bool { return s>>x&1 == 1 }

// The kits: what a home is commonly fitted with.
var kits = map[string]Set{
	"least": Of(detect.ServiceVolume, detect.BrineLevel),
	"meters": Of(detect.InletVolume, detect.ServiceVolume, detect.DrainVolume,
		detect.BrineLevel, detect.Battery),
	"common": Of(detect.InletVolume, detect.ServiceVolume, detect.DrainVolume, detect.BrineLevel,
		detect.SaltLevel, detect.ValvePower, detect.Battery),
	"full": Of(detect.InletVolume, detect.ServiceVolume, detect.DrainVolume, detect.BrineLevel,
		detect.SaltLevel, detect.InletPressure, detect.OutletPressure, detect.ValvePower, detect.RawHardness,
		detect.ColdHardness, detect.HotHardness, detect.RawIron, detect.SoftConductivity, detect.WaterTemperature,
		detect.FloorWet, detect.Battery),
}

// ParseSet reads the name of a kit (least, meters, common, full) or signals with
// commas between them.
func ParseSet(text string) (Set, error) {
	if s, ok := kits[text]; ok {
		return s, nil
	}
	var s Set
	for name := range strings.SplitSeq(text, ",") {
		x, err := detect.ParseSignal(strings.TrimSpace(name))
		if err != nil {
			return 0, fmt.Errorf("%w; the kits are least, meters, common, full", err)
		}
		s |= 1 << x
	}
	return s, nil
}
