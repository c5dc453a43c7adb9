package simulator

import (
	"math/rand/v2"
	"time"

	"brinebell/simulator/sensor"
)

// turn looks at what changes by the minutes: weather, faults, the salt, a
// counter whose battery was changed.
func (h *Home) turn() {
	t := time.UnixMilli(h.now)
	local := t.In(h.profile.Location)
	h.weather.turn(local)
	brought := h.faults.turn(t, &h.truth)
	h.lookAtSalt(local, brought)
	h.trouble.turn(h.devices)
	every := weatherEvery.Milliseconds()
	h.turnAt = min((h.now/every+1)*every, h.faults.next(t))
}

// lookAtSalt pours in salt on the days and at the hour when the household does
// so, unless the bags have run out.
func (h *Home) lookAtSalt(local time.Time, brought bool) {
	habit, day := h.people.Salt, local.YearDay()
	if brought {
		habit.EveryDays, habit.Low = 1, 1
	} else {
		minute := float64(local.Hour()*60 + local.Minute())
		if h.salt.withholds(local) {
			if kg := h.salt.scoop(h.plant.Salt(), local); kg > 0 {
				h.plant.AddSalt(kg)
			}
			return
		}
		if day == h.saltDay || minute < habit.Minute || h.state.Regenerating {
			return
		}
		h.saltDay = day
	}
	if kg := habit.Pour(day, h.state.SaltLevel, h.profile.BrineTank); kg > 0 {
		h.plant.AddSalt(kg)
	}
}

// resets are changes of battery that put totals to nothing.
type resets struct {
	r        *rand.Rand
	perMonth float64
}

func (t *resets) turn(devices []sensor.Device) {
	if t.perMonth <= 0 {
		return
	}
	if t.r.Float64() < t.perMonth/30*weatherEvery.Hours()/24 {
		for i := range devices {
			devices[i].Reset()
		}
	}
}
