package trait

import (
	"math"

	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/brine"
	"brinebell/detect/regeneration"
)

// Kind is one trait of a regeneration.
type Kind int

// The traits.
const (
	Drawn         Kind = iota // brine taken out of the tank
	Refilled                  // water put back
	DrawPace                  // brine a minute while it is drawn
	NozzlePace                // flow to the drain through draw and slow rinse less the brine in it: what the injector's nozzle lets through
	Backwash                  // flow to the drain in backwash or fast rinse, over the programme's, whichever is more
	RefillMinutes             // how long the refill ran
	Left                      // how much higher than usual the brine stands after the draw, in doses
	Full                      // how much higher than usual it stands after the refill, in doses
	SaltSunk                  // how far the salt's top sank over what the dose should take
	RunLitres                 // softened between two regenerations
	DailyUse                  // litres a day in that time
	RefillSeen                // water put back as a meter in the pipe saw it
	Pores                     // by how much that lifted the level, over what it should among salt
	Raw                       // hardness before the softener
	kinds
)

// keys name the traits in evidence.
var keys = [kinds]string{"drawn_share", "refill_share", "draw_pace_share", "nozzle_pace_share", "backwash_share",
	"refill_minutes_share", "left_share", "full_share", "salt_sunk_share", "run_litres_share", "daily_use_share", "refill_metered_share", "pores_share", "raw_change_share"}

// Keys lists the names of all traits in evidence.
func Keys() []string { return append(keys[:], SaltHigh, SoftFloor, SoftPeak) }

// linear says whether a trait is a difference and not a ratio: it may be nothing.
func (k Kind) linear() bool { return k == Left || k == Full }

// betweenTwo says whether a trait is of the time between two regenerations, and not
// of the last.
func (k Kind) betweenTwo() bool { return k == SaltSunk || k == RunLitres || k == DailyUse }

// cellar is the temperature taken for brine, degC; saturated brine holds the
// same salt per litre within 0.2 % from 0 to 40.
const cellar = 20.0

// doseLitres is the saturated brine that holds the programmed dose, L.
func doseLitres(h *detect.Home) float64 {
	return brine.BrineFor(h.Softener.Salt, h.Softener.SaltDose, cellar)
}

// measure reads the traits off a record: L, L/min, minutes and, for levels,
// doses. NaN is what nobody saw.
func measure(h *detect.Home, r *regeneration.Record, e *books.Entry) (m [kinds]float64) {
	for k := range m {
		m[k] = math.NaN()
	}
	dose := doseLitres(h)
	t := brine.NewTank(h.BrineTank)
	rise := dose / t.LitresPerMM(h.BrineTank.Grid+1, math.NaN())
	m[Drawn], m[Refilled] = r.BrineLitres, r.RefillLitres
	if m[RefillSeen] = r.RefillSeen; r.RefillSeen > 0 {
		m[Pores] = r.RefillLitres / r.RefillSeen
	}
	m[Left], m[Full] = r.LevelLowest/rise, r.LevelEnd/rise
	if r.DrawMinutes > 0 {
		m[DrawPace] = r.BrineLitres / r.DrawMinutes
	}
	m[Backwash] = quickest(h, r)
	if minutes, litres := sum(r, detect.BrineDraw, detect.SlowRinse); minutes >= leastMinutes {
		m[NozzlePace] = math.Max(litres-r.BrineLitres, 0) / minutes
	}
	if minutes, _ := sum(r, detect.Refill); minutes > 0 {
		m[RefillMinutes] = minutes
	}
	if litres, days := float64(e.Litres), float64(e.DaysSince); days > leastDays {
		m[RunLitres], m[DailyUse] = litres, litres/days
	}
	return m
}

// leastDays is how long a run between two regenerations must be to be compared.
const leastDays = 0.5

// programme is what the profile says of each trait, NaN where it says nothing.
func programme(h *detect.Home) (m [kinds]float64) {
	for k := range m {
		m[k] = math.NaN()
	}
	dose := doseLitres(h)
	m[Drawn], m[Refilled] = dose, dose
	for _, p := range h.Softener.Cycle {
		switch p.Phase {
		case detect.Backwash, detect.FastRinse:
			m[Backwash] = 1
		case detect.BrineDraw:
			m[NozzlePace] = p.Flow - dose/p.Duration.Minutes()
		case detect.Refill:
			m[RefillMinutes] = p.Duration.Minutes()
		}
	}
	return m
}

// leastMinutes is how long a phase must be for its flow to be told.
const leastMinutes = 3

// quickest is the flow to the drain in backwash or fast rinse over the programmed
// one, whichever is more: a phase that was taken for longer than it was looks slow,
// and a narrow drain slows both.
func quickest(h *detect.Home, r *regeneration.Record) float64 {
	most := math.NaN()
	for _, p := range h.Softener.Cycle {
		if p.Phase != detect.Backwash && p.Phase != detect.FastRinse || !(p.Flow > 0) {
			continue
		}
		minutes, litres := sum(r, p.Phase)
		if share := litres / minutes / p.Flow; minutes >= leastMinutes && !(share <= most) {
			most = share
		}
	}
	return most
}

// sum adds up the phases of these names.
func sum(r *regeneration.Record, names ...detect.Phase) (minutes, drain float64) {
	for _, p := range r.Phases {
		for _, name := range names {
			if p.Name == name {
				minutes, drain = minutes+p.Duration.Minutes(), drain+p.DrainLitres
			}
		}
	}
	return minutes, drain
}

// doseFall is by how many mm a dose of salt lowers the bed's top.
func doseFall(h *detect.Home) float64 {
	t := brine.NewTank(h.BrineTank)
	low := h.BrineTank.Grid + 100
	perMM := (t.SolidLitres(low+100) - t.SolidLitres(low)) / 100 * brine.SolidDensity(h.Softener.Salt)
	return h.Softener.SaltDose / perMM
}
