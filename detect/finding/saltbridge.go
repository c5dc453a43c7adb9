package finding

import (
	"fmt"
	"math"
	"time"

	"brinebell/detect"
	"brinebell/detect/brine"
	"brinebell/detect/regeneration"
)

const (
	// bridgeFall is by how many mm the salt must have been due to fall since it
	// last did: ten times the error of an hour's mean of a sensor with 3 mm of
	// noise that speaks every ten minutes, and more than a bed's surface shifts by
	// itself. Common practice, no source.
	bridgeFall = 20.0
	// bridgeShare is the share of the due fall below which the salt stands.
	bridgeShare = 0.25
	// bridgeDoses is the least number of regenerations it must have stood through.
	bridgeDoses = 2
	// bridgeMoved is the share from which the salt follows the brine again.
	bridgeMoved = 0.5
	// poresGone is the logarithm of the fall of mm drawn and mm refilled, both,
	// that says the pores have gone: where salt of a void share of 0.42 gives
	// place to liquid the level moves by 0.45 of what it did.
	poresGone = -0.36
	// poresAlike is how near the two must be to each other: a plugged injector
	// draws less and is refilled as ever.
	poresAlike = 0.25
	// mushSlack and mushLimit are k and h of the cumulative sum over how much further
	// the level moves both ways than it used to, in standard deviations: in control one
	// signal in some 42,000 regenerations (Siegmund, as in SaltDrawWatch). The
	// lesser of the two movements counts. mushLeast is the least such growth of one regeneration, as
	// a logarithm: pores of a void share of 0.42 that are filled by a seventh.
	mushSlack, mushLimit, mushLeast = 1.0, 4.5, 0.10
	// floatNear is how near the float a refill may have been stopped by it, mm.
	floatNear = 15.0
	// overSalt is how far above the liquid the salt must stand to be a bridge, mm.
	overSalt = 15.0
)

// SaltBridgeWatch finds salt that hangs out of the brine's reach.
//
// Needs: salt_level and brine_level for salt that stands; brine_level and a time
// of refill for brine that is weak.
// Statistic: (1) the fall of the salt's top over regenerations against what the
// brine drawn must have dissolved, since the top last moved: below a quarter of at
// least bridgeFall. (2) without a sensor over the salt: both the draw and the
// refill move the level by much less than they used to, in a refill as long as
// ever, twice in a row: there are no pores left, so there is no salt in the
// liquid (bridged, or used up). (3) both move it by more than they used to, in a
// refill as long as ever: crumbled salt has filled the pores, in a cumulative sum.
// False alarms: (1) needs an error of 20 mm in an hour's mean, (2) a wrong level
// twice with a like share.
// Smallest fault visible: (1) a bridge over any share of the tank, after two to
// three doses; (2) one that has left no salt where the liquid stands; (3) a fifth of
// the pores filled, after three regenerations.
// Closes when the salt follows the brine again, or the level moves as it did.
// Source: common practice, no source.
type SaltBridgeWatch struct {
	Top      float64 // of the salt when the count began, mm; NaN or 0 none
	Due      float64 // mm that it should have fallen since
	Doses    int     // regenerations since
	From     time.Time
	Draw     normal // mm drawn, over what the dose would
	Fill     normal // mm refilled
	Refilled refilled
	Gone     int // regenerations in a row without pores
	GoneFrom time.Time
	Back     bool    // the last one moved the level as it used to
	Mush     float64 // the cumulative sum of pores that fill
	MushFrom time.Time
	MushRow  int // regenerations since it left zero
	Standing bool
	ByTop    bool
	ByMush   bool
	Onset    time.Time
}

// Step judges a regeneration when one has finished.
func (d *SaltBridgeWatch) Step(v *View) *Verdict {
	if d.Standing && d.ByTop && v.Minute.Start.Minute() == 0 {
		if said := d.fell(v); said != nil {
			return said
		}
	}
	if v.judged() == nil || v.Record.Ending != regeneration.Completed {
		return nil
	}
	top := v.saltTop()
	gone := d.poresGone(v)
	if said := d.byMush(v); said != nil || d.ByMush {
		return said
	}
	if top == top {
		if said := d.byTop(v, top, gone); said != nil || top < nanTo(v.Record.LevelEnd, 0)+overSalt {
			return said
		}
	}
	return d.byPores(v, gone)
}

// fell ends a finding when somebody has broken the bridge or filled salt.
func (d *SaltBridgeWatch) fell(v *View) *Verdict {
	top := v.saltTop()
	if top != top || math.Abs(top-d.Top) < math.Max(overSalt, bridgeMoved*math.Min(d.Due, 2*bridgeFall)) {
		return nil
	}
	d.Standing = false
	d.restart(v, top)
	return &Verdict{Kind: detect.SaltBridgeKind}
}

func (d *SaltBridgeWatch) restart(v *View, top float64) {
	d.Top, d.Due, d.Doses, d.From = top, 0, 0, v.eventStart()
}

// eventStart is the start of the regeneration at hand, else now.
func (v *View) eventStart() time.Time {
	if v.Record != nil {
		return v.Record.Start
	}
	return v.Minute.Start
}

// byTop books one regeneration's due fall.
func (d *SaltBridgeWatch) byTop(v *View, top float64, gone bool) *Verdict {
	fall := d.Top - top
	switch {
	case d.Top == 0 || fall < -overSalt: // the first, or salt was filled in
		d.restart(v, top)
		return nil
	case d.Due >= bridgeFall/2 && fall >= bridgeMoved*d.Due:
		d.restart(v, top)
		return nil
	}
	kg := float64(v.Entry.Salt)
	if v.Entry.SaltAssumed || kg != kg {
		return nil
	}
	if gone { // without pores a mm is more litres than the books take it for
		kg = math.Max(kg, v.Home.Softener.SaltDose)
	}
	d.Due += ratioOrNaN(kg, kgPerMM(v.Home))
	d.Doses++
	if level := math.Max(nanTo(v.Record.LevelEnd, 0), nanTo(v.Record.LevelStart, 0)); top < level+overSalt {
		return nil // under water: salt is low, and its top not to be trusted
	}
	if d.Standing || d.Due < bridgeFall || d.Doses < bridgeDoses || fall >= bridgeShare*d.Due {
		return nil
	}
	d.Standing, d.ByTop, d.Onset = true, true, d.From
	e := detect.Evidence{"sign": "salt stands", "salt_fall_mm": round(fall, 0), "salt_fall_due_mm": round(d.Due, 0),
		"regenerations": d.Doses, "salt_level_mm": round(top, 0)}
	d.putPores(v, e)
	return &Verdict{Kind: detect.SaltBridgeKind, Standing: true, Severity: detect.ThisWeek, Onset: d.Onset, Evidence: e,
		Summary: fmt.Sprintf("The salt has not sunk through %d regenerations, although brine was drawn: it should be %s lower. Below the crust there may be a hollow; knock it down gently with a broom handle.",
			d.Doses, wordsFor(v.Home.Units).length(d.Due))}
}

// kgPerMM is the salt in a mm of the bed.
func kgPerMM(h *detect.Home) float64 {
	t := brine.NewTank(h.BrineTank)
	low := h.BrineTank.Grid + 100
	return (t.SolidLitres(low+100) - t.SolidLitres(low)) / 100 * brine.SolidDensity(h.Softener.Salt)
}

// pores is how many mm the level was drawn down and refilled, over what the dose
// would do among salt, and the refill's minutes over the programme's.
func pores(v *View) (draw, fill, minutes float64) {
	r := v.Record
	rise := doseRise(v.Home)
	draw, fill = (r.LevelStart-r.LevelLowest)/rise, (r.LevelEnd-r.LevelLowest)/rise
	minutes = math.NaN()
	for _, p := range r.Phases {
		if p.Name == detect.Refill {
			minutes = ratioOrNaN(p.Duration.Minutes(), programmed(v.Home, detect.Refill).Minutes())
		}
	}
	return draw, fill, minutes
}

func programmed(h *detect.Home, name detect.Phase) time.Duration {
	var sum time.Duration
	for _, p := range h.Softener.Cycle {
		if p.Phase == name {
			sum += p.Duration
		}
	}
	return sum
}

func (d *SaltBridgeWatch) putPores(v *View, e detect.Evidence) {
	draw, fill, _ := pores(v)
	putShare(e, "level_drawn_share", draw/d.Draw.factor())
	putShare(e, "level_refilled_share", fill/d.Fill.factor())
}

// poresGone compares how far the level moved with how far it used to, and keeps
// what is usual.
func (d *SaltBridgeWatch) poresGone(v *View) bool {
	draw, fill, minutes := pores(v)
	d.Back = false
	if !(draw > 0.05) || !(fill > 0.05) || !(minutes > 0) {
		return false
	}
	own, sd := d.Draw.belief()
	filled, _ := d.Fill.belief()
	a, b, m := math.Log(draw)-own, math.Log(fill)-filled, d.Refilled.more(v)
	limit := poresGone - sd // the profile's pores are known to some percent only
	stopped := v.Home.BrineTank.Float > 0 && v.Record.LevelEnd > v.Home.BrineTank.Float-floatNear
	if !stopped && a < limit && b < limit && math.Abs(a-b) < poresAlike && m > b/3 {
		return true
	}
	d.Back = a > poresGone/2 && b > poresGone/2 && a < -poresGone/2 && b < -poresGone/2
	spread := math.Hypot(sd, drawScatter)
	z := math.Min(a, b) / spread
	if stopped || math.Abs(a-b) > poresAlike || m > b/3 || math.Min(a, b) < mushLeast {
		z = math.Min(z, 0)
	}
	d.fill(v, z)
	if d.Draw.N < drawLearning && math.Abs(a) < -limit && math.Abs(b) < -limit ||
		math.Abs(a) < drawSound*spread && math.Abs(b) < drawSound*spread && d.Mush < 1 {
		d.Draw.learn(draw)
		d.Fill.learn(fill)
		d.Refilled.learn(v, v.Record)
	}
	return false
}

// fill moves the sum of pores that fill.
func (d *SaltBridgeWatch) fill(v *View, z float64) {
	if d.Draw.N < drawLearning {
		return // until then it is the profile that is off
	}
	before := d.Mush
	d.Mush = math.Min(math.Max(0, d.Mush+z-mushSlack), 2*mushLimit)
	switch {
	case d.Mush == 0:
		d.MushRow = 0
	case before == 0:
		d.MushRow, d.MushFrom = 1, v.Record.Start
	default:
		d.MushRow++
	}
}

// byMush speaks when the pores have filled, and when they are open again.
func (d *SaltBridgeWatch) byMush(v *View) *Verdict {
	if d.ByMush {
		if !d.Back {
			return nil
		}
		d.Standing, d.ByMush, d.Mush, d.MushRow = false, false, 0, 0
		return &Verdict{Kind: detect.SaltBridgeKind}
	}
	if d.Standing || d.Mush < mushLimit || d.MushRow < 2 {
		return nil
	}
	d.Standing, d.ByMush, d.ByTop, d.Onset = true, true, false, d.MushFrom
	e := detect.Evidence{"sign": "pores filled", "regenerations": d.MushRow}
	d.putPores(v, e)
	return &Verdict{Kind: detect.SaltBridgeKind, Standing: true, Severity: detect.ThisWeek, Onset: d.Onset, Evidence: e,
		Summary: "The brine rises and falls further than it used to with the same refill: crumbled salt has filled the room between the pellets and hardens into a crust or sludge. Look into the tank, and clean it before it plugs."}
}

// byPores counts regenerations without pores.
func (d *SaltBridgeWatch) byPores(v *View, gone bool) *Verdict {
	switch {
	case gone:
		if d.Gone++; d.Gone == 1 {
			d.GoneFrom = v.Record.Start
		}
		if d.Gone < 2 || d.Standing {
			return nil
		}
		d.Standing, d.ByTop, d.Onset = true, false, d.GoneFrom
		e := detect.Evidence{"sign": "brine weak", "regenerations": d.Gone}
		d.putPores(v, e)
		return &Verdict{Kind: detect.SaltBridgeKind, Standing: true, Severity: detect.ThisWeek, Onset: d.Onset, Evidence: e,
			Summary: "The brine tank fills and empties as if there were no salt in the liquid: the salt may be used up, or hang as a crust above it. Look into the tank."}
	case d.Standing && !d.ByTop && d.Back:
		d.Standing, d.Gone = false, 0
		return &Verdict{Kind: detect.SaltBridgeKind}
	}
	d.Gone = 0
	return nil
}
