package brinetank

import (
	"math"

	"brinebell/detect"
)

const (
	// dissolving is the time constant in s in which the liquid among plain
	// salt nears saturation: 95 % in two hours; common practice asks for two
	// to four hours before a draw.
	dissolving = 40 * 60
	// plainContact is the litres of salt bed round a litre of liquid there.
	plainContact = 2.1
	// nearlySaturated is the shortfall, in kg per kg of water, at which the
	// tank is left alone.
	nearlySaturated = 2e-5
	// lastGrains is the litres of salt bed as which the last grains dissolve, so
	// that they come to an end.
	lastGrains = 0.5
	// overflowAt is the share of the height where the overflow is.
	overflowAt = 0.9
	// mushFills is the share of the pores that the worst mush fills, and
	// mushSeals how many times slower salt under it dissolves.
	mushFills = 0.7
	mushSeals = 5.0
)

// Tank is a brine tank. It is not safe for concurrent use.
type Tank struct {
	shape      shape
	brine      Brine
	void       float64 // pores of clean salt
	pickup     float64 // mm, where the air check seats
	saturation float64 // kg/kg
	water      float64 // kg
	dissolved  float64 // kg
	free       float64 // kg of salt within reach of the liquid
	hung       float64 // kg of salt in a bridge
	bridgeTop  float64 // mm
	atBridging float64 // kg of salt when the bridge began
	mush       float64 // 0 to 1
	litres     float64
	over       float64 // L that ran over
	level      float64
	top        float64 // mm, of the free salt
	calm       bool
}

// New is a tank with kg of the salt of b and saturated brine up to level mm. The brine
// line picks up down to pickup mm; temperature is the room's in degC.
func New(t detect.BrineTank, b Brine, void, pickup, temperature, kg, level float64) *Tank {
	k := &Tank{shape: newShape(t, b.crystal, void), brine: b, void: void, pickup: pickup, saturation: b.Saturation(temperature)}
	k.AddSalt(kg)
	perKg := b.Volume(1, k.saturation)
	k.water = k.shape.litres(level, k.top) / perKg
	k.dissolved = k.water * k.saturation
	k.settle()
	return k
}

// settle works out the levels after anything changed, and lets out at the
// overflow what stands above it.
func (k *Tank) settle() {
	k.top = k.shape.saltTop(k.free)
	k.litres = k.brine.Volume(k.water, k.dissolved)
	k.level = k.shape.level(k.litres, k.top)
	if brim := k.shape.height * overflowAt; k.level > brim {
		over := k.litres - k.shape.litres(brim, k.top)
		k.over += over
		k.water -= k.water * over / k.litres
		k.dissolved -= k.dissolved * over / k.litres
		k.litres -= over
		k.level = brim
	}
}

// Overflow is what has run over in L since it was last asked.
func (k *Tank) Overflow() float64 {
	over := k.over
	k.over = 0
	return over
}

// Calm says whether nothing happens in the tank by itself.
func (k *Tank) Calm() bool { return k.calm }

// Dissolve lets salt go into solution for the given seconds.
func (k *Tank) Dissolve(seconds float64) {
	if k.calm {
		return
	}
	short := k.saturation*k.water - k.dissolved
	if short <= nearlySaturated*k.water || k.free <= 0 {
		k.calm = true
		return
	}
	wet := (min(k.level, k.top) - k.shape.grid) * (k.shape.full - k.shape.well)
	if wet <= 0 || k.litres <= 0 {
		k.calm = true
		return
	}
	wet = max(wet, lastGrains)
	rate := wet / k.litres / plainContact / dissolving / (1 + mushSeals*k.mush)
	gone := min(short*-math.Expm1(-rate*seconds), k.free)
	k.dissolved += gone
	k.free -= gone
	k.settle()
}

// Fill lets litres of water in.
func (k *Tank) Fill(litres float64) {
	k.water += litres * densityWater
	k.calm = false
	k.settle()
}

// Draw takes up to litres of liquid and returns what it got, in litres and in
// kg of salt. It gets none below the pickup, where the air check seats.
func (k *Tank) Draw(litres float64) (drawn, salt float64) {
	drawn = min(litres, k.litres-k.shape.litres(k.pickup, k.top))
	if drawn <= 0 {
		return 0, 0
	}
	salt = k.take(drawn)
	return drawn, salt
}

func (k *Tank) take(litres float64) (salt float64) {
	share := litres / k.litres
	salt = k.dissolved * share
	k.water -= k.water * share
	k.dissolved -= salt
	k.calm = false
	k.settle()
	return salt
}

// AddSalt pours in kg of salt, as much as there is room for.
func (k *Tank) AddSalt(kg float64) {
	room := (k.shape.height - k.SaltLevel()) * k.shape.saltPerMM
	kg = max(0, min(kg, room))
	if k.hung > 0 {
		k.hung += kg
		k.bridgeTop += kg / k.shape.saltPerMM
	} else {
		k.free += kg
	}
	k.calm = false
	k.settle()
}
