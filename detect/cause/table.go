package cause

import (
	"sort"

	"brinebell/detect"
)

// row is how often a cause is behind a kind of finding, and what in the
// evidence makes it more or less so. Weights are relative within a kind.
type row struct {
	cause  detect.Cause
	weight float64
	when   []lift
	reason string
}

// lift multiplies a row's weight when the evidence says so.
type lift struct {
	by   float64
	test func(e detect.Evidence) bool
}

func says(key, value string) func(detect.Evidence) bool {
	return func(e detect.Evidence) bool { s, _ := e[key].(string); return s == value }
}

func atLeast(key string, least float64) func(detect.Evidence) bool {
	return func(e detect.Evidence) bool { v, ok := e[key].(float64); return ok && v >= least }
}

func below(key string, limit float64) func(detect.Evidence) bool {
	return func(e detect.Evidence) bool { v, ok := e[key].(float64); return ok && v < limit }
}

// table is every finding's causes. All weights are common practice, no source,
// until a firm's own confirmed causes replace them.
var table = map[detect.Kind][]row{
	detect.NightLeak: {
		{detect.FlapperLeak, 40, []lift{{6, says("pattern", "refilling")}, {0.5, says("pattern", "steady")}}, "toilets are the commonest leak indoors and refill in portions"},
		{detect.DrippingFixture, 25, []lift{{0.1, says("pattern", "refilling")}, {0.15, atLeast("size_l_per_min", 0.3)}}, "drips are small and steady"},
		{detect.SupplyLineLeak, 10, []lift{{0.1, says("pattern", "refilling")}, {2, atLeast("size_l_per_min", 0.3)}}, "a hole in a pipe runs steadily, whatever its size"},
		{detect.FixtureLeftOpen, 8, []lift{{0.1, says("pattern", "refilling")}, {4, atLeast("size_l_per_min", 1)}, {0.2, below("size_l_per_min", 0.2)}}, "an open tap runs litres a minute"},
		{detect.SealsWorn, 5, []lift{{0.1, says("pattern", "refilling")}}, "water past the valve's seals to the drain passes the house meter too"},
		{detect.SensorFault, 2, nil, "a meter that counts by itself"},
	},
	detect.MeterDead: {
		{detect.MeterJammed, 45, []lift{{0.4, says("meter", "inlet")}}, "a turbine in hard, iron-bearing water is the usual victim"},
		{detect.MeterCable, 35, nil, "plugs and pick-ups fail next often"},
		{detect.BypassLeftOpen, 25, []lift{{0, says("meter", "inlet")}, {0.05, says("witness", "drain")}, {0.1, says("witness", "nothing")}}, "with the bypass open the softener's meter rightly stands still, and nothing reaches its drain"},
		{detect.SensorFault, 10, nil, "the retrofit sensor itself"},
		{detect.AwayFromHome, 1, []lift{{200, says("witness", "nothing")}}, "an empty house shows no use anywhere"},
	},
	detect.SaltDrawLow: {
		{detect.SaltEmpty, 22, []lift{{3, below("drawn_share", 0.15)}, {0.3, atLeast("drawn_share", 0.5)}}, "no salt, no brine; the level may still move"},
		{detect.SaltBridge, 20, []lift{{0.5, atLeast("drawn_share", 0.5)}}, "brine under a crust is weak or little"},
		{detect.InjectorClogged, 28, []lift{{1.6, atLeast("drawn_share", 0.15)}, {0.5, below("drain_share", 0.7)}}, "a fouled nozzle draws slowly, at first only a little less"},
		{detect.DrainRestricted, 12, []lift{{3, below("drain_share", 0.7)}, {0.2, atLeast("drain_share", 0.85)}}, "back-pressure takes the suction away and shows at the drain"},
		{detect.BrineLineAir, 10, nil, "air instead of brine"},
		{detect.SaltMush, 6, nil, "sludge round the well"},
		{detect.FloatStuck, 8, []lift{{4, below("refill_share", 0.7)}}, "a float stuck low shortens the refill, so the next draw"},
		{detect.SettingDose, 8, []lift{{4, below("refill_share", 0.85)}, {0.2, atLeast("refill_share", 0.95)}}, "a smaller dose refills less"},
		{detect.SealsWorn, 4, nil, "seals that leak between ports weaken the suction"},
		{detect.SensorFault, 4, nil, "the level sensor sticks"},
	},
	detect.SaltDrawHigh: {
		{detect.SettingDose, 40, []lift{{2, atLeast("refill_share", 1.15)}}, "a larger dose refills and draws more"},
		{detect.BrineValveLeak, 25, nil, "water that seeps in between regenerations makes brine that the next draw takes"},
		{detect.FloatStuck, 18, nil, "a float stuck high lets the tank overfill"},
		{detect.SealsWorn, 6, nil, "leaking ports feed the brine tank"},
		{detect.SensorFault, 8, nil, "the level sensor's error"},
	},
	detect.DrainRunning: {
		{detect.SealsWorn, 50, nil, "worn seals leak to the drain in service"},
		{detect.DriveFailed, 25, []lift{{3, atLeast("size_l_per_min", 1.5)}, {0.3, below("size_l_per_min", 0.3)}}, "a valve stopped between positions runs strongly"},
		{detect.NoPower, 6, []lift{{2, atLeast("size_l_per_min", 1.5)}, {0.2, below("size_l_per_min", 0.3)}}, "power lost in mid-cycle leaves the valve open to the drain"},
		{detect.SensorFault, 4, nil, "the drain meter counts by itself"},
	},
}

// least is the smallest probability that is told.
const least = 0.01

// Rank orders the causes of a finding by probability, given its evidence. The
// shares sum to 1 but for those below one in a hundred, which are left out.
func Rank(kind detect.Kind, e detect.Evidence) []detect.CauseShare {
	var ranked []detect.CauseShare
	sum := 0.0
	for _, r := range table[kind] {
		w := r.weight
		for _, l := range r.when {
			if l.test(e) {
				w *= l.by
			}
		}
		sum += w
		ranked = append(ranked, detect.CauseShare{Cause: r.cause, Probability: w})
	}
	told := ranked[:0]
	for _, c := range ranked {
		if c.Probability /= sum; c.Probability >= least {
			told = append(told, c)
		}
	}
	sort.SliceStable(told, func(i, j int) bool { return told[i].Probability > told[j].Probability })
	return told
}
