package plant

import (
	"brinebell/simulator/plant/column"
)

// Packing of a bed that is not lifted by its backwash, and what channels do to
// it. A bed packs over some ten poor backwashes and one good one nearly frees
// it: common practice.
const (
	packs         = 0.1
	frees         = 0.8
	packedChannel = 0.12
	packedLoss    = 1.5 // times the clean bed's resistance, added
	// lifted mixes neighbouring slices in a backwash.
	lifted = 0.02
	// rustShare of the iron taken up turns to rust on the beads instead of
	// leaving with the brine; rustSites is the share of sites that a gram of it
	// per litre of bed takes.
	rustShare = 0.02
	rustSites = 0.03
	rustSpeed = 0.10
)

// bed is one tank of resin and what has become of it.
type resinBed struct {
	column  *column.Column
	broken  float64 // resistance over a clean bed's
	uneven  float64 // share of channels by itself
	packed  float64 // 0 to 1
	sites   float64 // share of new resin's
	kinetic float64
	rust    float64 // g per litre of bed
	pending float64 // L of service not yet pushed through
	seconds float64 // of it
	passed  float64 // L since the last regeneration
	soft    column.Water
}

// settle tells the column how it is.
func (b *resinBed) settle() {
	b.column.SetHealth(b.sites*(1-min(0.8, rustSites*b.rust)), b.kinetic*(1-min(0.8, rustSpeed*b.rust)))
	b.column.SetChannel(b.uneven + packedChannel*b.packed)
}

func (b *resinBed) clog() float64 { return b.broken * (1 + packedLoss*b.packed) }

// serve counts litres of service; the column is moved on when enough have come
// together to matter, since its load changes by a thousandth with a litre.
func (b *resinBed) serve(litres, seconds float64, raw column.Water) {
	b.pending += litres
	b.seconds += seconds
	if b.pending >= 2*b.column.PoreVolume() {
		b.flush(raw)
	}
}

func (b *resinBed) flush(raw column.Water) {
	if b.pending <= 0 {
		return
	}
	b.soft = b.column.Advance(b.pending, b.seconds, raw, false)
	b.passed += b.pending
	b.pending, b.seconds = 0, 0
}

// backwashed is the end of a backwash with a share of the water it should have.
func (b *resinBed) backwashed(share float64) {
	share = min(share, 1)
	b.packed = min(max(b.packed+packs*(1-share)-frees*share*b.packed, 0), 1)
	b.column.Mixed(lifted * share)
	b.settle()
}

// age leaves some of the iron mg/L in the water since the last regeneration on
// the beads.
func (b *resinBed) age(iron float64) {
	b.rust += rustShare * iron * b.passed / 1000 / b.column.Options().Resin
	b.passed = 0
}

func (b *resinBed) renew() {
	b.column.Renew()
	b.rust, b.packed = 0, 0
	b.settle()
}
