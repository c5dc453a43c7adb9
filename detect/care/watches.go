package care

import "brinebell/detect"

const (
	whyLeak    = "a leak is told after about three nights, so that fewer quiet ones prove nothing"
	whyBrine   = "the first draws what stood in the tank, the second what was made since"
	whyBed     = "what the bed holds shows over several cycles"
	whySetting = "the interval that the setting leads to must come round"
)

// watches is how long to watch by cause; common practice, no source, but for the
// nights of a leak, which follow from how many its detector needs.
var watches = map[detect.Cause]Watch{
	detect.FlapperLeak:     {4, 0, whyLeak, false},
	detect.DrippingFixture: {4, 0, whyLeak, false},
	detect.SupplyLineLeak:  {4, 0, whyLeak, false},
	detect.FixtureLeftOpen: {4, 0, whyLeak, false},
	detect.MeterJammed:     {3, 1, "a meter that counts again calls for a regeneration when it is due", false},
	detect.MeterCable:      {3, 1, "a cable that is loose works for hours: one cycle by its count", false},
	detect.NoPower:         {1, 1, "one full cycle after the power came back", false},
	detect.BypassLeftOpen:  {2, 1, "the bed must be seen to use up and to regenerate", false},
	detect.SaltEmpty:       {0, 2, whyBrine, false},
	detect.SaltBridge:      {0, 3, "a crust shows only after several draws under it", false},
	detect.SaltMush:        {0, 3, whyBrine + "; sludge comes back slowly", false},
	detect.InjectorClogged: {0, 2, whyBrine, false},
	detect.DrainRestricted: {0, 2, whyBrine, false},
	detect.BrineLineAir:    {0, 2, whyBrine, false},
	detect.FloatStuck:      {1, 2, "two refills to the right height", false},
	detect.BrineValveLeak:  {3, 2, "seeping shows between regenerations", false},
	detect.SealsWorn:       {4, 1, whyLeak + "; the valve was open, so one cycle must be right", false},
	detect.DriveFailed:     {1, 2, "two cycles through every position", false},
	detect.ClockWrong:      {0, 2, "two cycles at the set hour", true},
	detect.SettingHardness: {0, 3, whySetting, false},
	detect.SettingDose:     {0, 2, whyBrine, false},
	detect.SettingReserve:  {0, 3, whySetting, false},
	detect.UseGrew:         {7, 1, "a week has every weekday once", false},
	detect.ResinFouled:     {0, 4, whyBed, false},
	detect.ResinSpent:      {0, 3, whyBed, false},
	detect.BedClogged:      {3, 2, whyBed, false},
	detect.SourceChanged:   {0, 3, whySetting, false},
	detect.SensorFault:     {3, 0, "a sensor with a loose contact or a weak battery fails again within days", false},
	detect.AwayFromHome:    {1, 0, "somebody is back", false},
}

// anyWatch is for a cause nobody named.
var anyWatch = Watch{3, 1, "nobody said what it was, so some of both", false}

// WatchFor is the watch after the repair of a cause, which may be empty.
func WatchFor(c detect.Cause) Watch {
	if w, ok := watches[c]; ok {
		return w
	}
	return anyWatch
}
