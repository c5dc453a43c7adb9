package care

import (
	"math"
	"time"

	"brinebell/detect"
	"brinebell/detect/resin"
)

// Loss is what a day of waiting costs, as far as the evidence shows.
type Loss struct {
	Water    float64 // L that run away
	Salt     float64 // kg burnt for nothing
	Hard     float64 // L that come unsoftened
	Damage   float64 // expected damage to the house, money
	PerDay   float64 // all of it, money
	Currency string  // of the home, ISO 4217
}

const (
	// perPerson is what one person uses indoors, L a day: 58.6 US gallons
	// (DeOreo et al., Residential End Uses of Water, WRF 4309, 2016; from memory).
	perPerson = 222
	// damageSum is what water in a house is taken to cost when it comes to that,
	// in units of the home's currency. Common practice, no source: only the order
	// of the cases depends on it, and there only where damage threatens at all.
	damageSum = 5000
)

// threats are the chances a day that a finding turns into water damage. Common
// practice, no source.
var threats = map[detect.Kind]float64{
	detect.FloorWetKind:      0.10,
	detect.Burst:             0.05,
	detect.BrineHigh:         0.01,
	detect.RegenerationStuck: 0.01,
}

// hiddenLeak is the chance a day that a leaking pipe does damage; of a leak whose
// cause is not known at all one in ten is taken to be of a pipe. What runs down
// a toilet or the drain wets nothing. Common practice, no source.
const (
	hiddenLeak  = 0.01
	pipeUnknown = 0.1
)

// hardness says of each finding how much of the water comes hard while it
// stands. Common practice, no source; where a hardness was measured, that counts.
var hardness = map[detect.Kind]float64{
	detect.HardWater: 1, detect.BypassOpen: 1, detect.RegenerationMissed: 1, detect.PowerLost: 0.5, detect.MeterDead: 0.5,
	detect.SaltBridgeKind: 0.5, detect.SaltDrawLow: 0.3, detect.CapacityShort: 0.3, detect.RegenerationMistimed: 0.05,
}

// Waiting estimates what a day of waiting costs at a home, from the alerts of
// one case that stand. Findings that see the same water, or the same salt, count
// once: the largest. Soft water is worth what making it costs at this home, since
// the household pays that for it.
func Waiting(h detect.Home, alerts []detect.Alert) Loss {
	l := Loss{Currency: h.Costs.Currency}
	threat := 0.0
	for _, a := range alerts {
		if !a.Open() {
			continue
		}
		l.Water = math.Max(l.Water, runsAway(a))
		l.Salt = math.Max(l.Salt, burnt(a, h))
		l.Hard = math.Max(l.Hard, comesHard(a)*h.Occupants*perPerson)
		threat = math.Max(threat, threatens(a))
	}
	l.Damage = threat * damageSum
	l.PerDay = l.Water/1000*h.Costs.Water + l.Salt*h.Costs.Salt + l.Hard*soft(h) + l.Damage
	return l
}

// runsAway is the water that a finding says is lost, L a day.
func runsAway(a detect.Alert) float64 {
	switch a.Kind {
	case detect.NightLeak, detect.DrainRunning, detect.RegenerationStuck:
		return number(a, "litres_per_day")
	case detect.Burst:
		return number(a, "size_l_per_min") * 24 * 60
	}
	return 0
}

// burnt is the salt that a finding says is used for nothing, kg a day. Water
// that leaks behind the softener was softened.
func burnt(a detect.Alert, h detect.Home) float64 {
	s := h.Softener
	switch a.Kind {
	case detect.NightLeak, detect.Burst:
		return runsAway(a) / litresADose(h) * s.SaltDose
	case detect.SaltUseHigh:
		return number(a, "excess_salt_kg_per_year") / 365
	case detect.RegenerationFrequent:
		if days, used := number(a, "days_since"), number(a, "capacity_used_share"); days > 0 && used > 0 && used < 1 {
			return (1 - used) * s.SaltDose / days
		}
	}
	return 0
}

// comesHard is the share of the water that comes hard.
func comesHard(a detect.Alert) float64 {
	if share := number(a, "hard_share"); share > 0 && a.Kind == detect.HardWater {
		return math.Min(share, 1)
	}
	return hardness[a.Kind]
}

func threatens(a detect.Alert) float64 {
	p := threats[a.Kind]
	if a.Kind != detect.NightLeak {
		return p
	}
	if len(a.Causes) == 0 {
		return pipeUnknown * hiddenLeak
	}
	for _, c := range a.Causes {
		if c.Cause == detect.SupplyLineLeak {
			p += c.Probability * hiddenLeak
		}
	}
	return p
}

// litresADose is the water that one salt dose softens at the home.
func litresADose(h detect.Home) float64 {
	grams := resin.Grams(h.Softener.Capacity * h.Softener.Resin)
	return 1000 * grams / math.Max(h.Water.Hardness, 1)
}

// soft is what softening a litre costs: its share of a dose and of the water of
// a regeneration.
func soft(h detect.Home) float64 {
	water := 0.0
	if drain, refill := resin.ProgrammeWater(h.Softener); !math.IsNaN(drain + refill) {
		water = (drain + refill) / 1000 * h.Costs.Water
	}
	return (h.Softener.SaltDose*h.Costs.Salt + water) / litresADose(h)
}

// number is a figure of the evidence, 0 when it is not there.
func number(a detect.Alert, key string) float64 {
	v, _ := a.Evidence[key].(float64)
	if math.IsNaN(v) || v < 0 {
		return 0
	}
	return v
}

// Lost is what a loss came to over a time.
func (l Loss) Lost(d time.Duration) float64 { return l.PerDay * d.Hours() / 24 }
