package books

import (
	"time"

	"brinebell/detect/resin"
)

// BedView is the bed's account since the last regeneration.
type BedView struct {
	Since      time.Time `json:"since,omitzero"` // end of the last regeneration; zero before one is seen
	Litres     Number    `json:"litres"`         // through the bed since; at least, where minutes are missing
	Removed    Number    `json:"removed_g"`      // hardness as CaCO3, iron and manganese counted in
	Restored   Number    `json:"restored_g"`
	Left       Number    `json:"left_g"`
	Scatter    Number    `json:"scatter_g"` // standard deviation of what is left, from that of published capacities
	LeftLitres Number    `json:"left_l"`    // litres of raw water that what is left will soften
	Assumed    bool      `json:"assumed"`   // rests on the programme's salt
	Seen       Number    `json:"seen"`      // share of the minutes since with known water
}

// TankView is the salt in the tank.
type TankView struct {
	Basis   SaltBasis `json:"basis"`
	Salt    Number    `json:"salt_kg"`
	Spread  Number    `json:"spread_kg"`       // standard deviation
	Room    Number    `json:"room_kg"`         // until the tank is as full as people fill it
	Hinted  int       `json:"hints"`           // rises of the brine that may have been a filling nobody reported
	Filled  time.Time `json:"filled,omitzero"` // last filling known; zero before one
	InSum   float64   `json:"in_kg"`           // filled in all, as far as known
	OutSum  float64   `json:"out_kg"`          // drawn in all
	PerDose Number    `json:"dose_kg"`         // what a regeneration usually takes
}

// bedView reads the bed's account; unknown before a regeneration was seen.
func (l *Ledger) bedView() BedView {
	b := &l.Bed
	unknown := Unknown()
	if b.LastEnd == 0 {
		return BedView{Litres: unknown, Removed: unknown, Restored: unknown, Left: unknown, Scatter: unknown, LeftLitres: unknown, Seen: unknown}
	}
	v := BedView{
		Since:    time.Unix(b.LastEnd, 0).In(l.home.Location),
		Restored: Number(resin.Grams(b.Restored)), Scatter: Number(resin.Grams(b.Restored) * resin.CapacityScatter),
		Litres: unknown, Removed: unknown, Left: unknown, LeftLitres: unknown, Assumed: b.Assumed,
	}
	v.Seen = Number(b.seen(l.Last))
	if l.basis() != ByNoMeter {
		left := b.left(l.Last)
		v.Litres, v.Removed, v.Left = Number(b.Litres), Number(resin.Grams(b.Removed)), Number(resin.Grams(left))
		v.LeftLitres = Number(ratio(left, resin.Equivalents(1, l.RawHardness())))
	}
	return v
}

func (l *Ledger) tankView() TankView {
	kg, spread, by := l.salt()
	s := &l.Salt
	v := TankView{
		Basis: by, Salt: Number(kg), Spread: Number(spread), Room: Number(max(0, l.brim()-kg)),
		Hinted: s.Hints, InSum: s.In, OutSum: s.Out, PerDose: Number(l.dose()),
	}
	if s.FilledAt != 0 {
		v.Filled = time.Unix(s.FilledAt, 0).In(l.home.Location)
	}
	return v
}
