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
	// drawSlack and drawLimit are the reference value k and the decision
	// interval h of the one-sided cumulative sums, in standard deviations: in
	// control a signal comes once in about 42,000 regenerations a side
	// (Siegmund's approximation, D = -1, b = 5.666), more often while the home's
	// own mean is not yet well known.
	drawSlack, drawLimit = 1.0, 4.5
	// drawAtOnce is the deviation that one regeneration convicts by: it finds a
	// draw off by half even where only the profile says what is usual.
	drawAtOnce = 3.5
	// drawLearning is how many regenerations are taken as the home's own, if
	// within drawBelievable deviations of the profile, before sums are kept: until
	// then every draw is off by the same error of the profile.
	drawLearning, drawBelievable = 4, 3.0
	// drawSound is the deviation within which a regeneration may teach the
	// normal, and within which a standing finding ends.
	drawSound = 2.0
	// paceScatter is the standard deviation of the logarithm of a draw's pace about the
	// home's own: suction goes with pressure, and the draw's end is told to a minute in
	// some fifteen. paceLeast is the least loss claimed, as a share.
	paceScatter, paceLeast = 0.12, 0.3
	// sureRegeneration is the confidence below which a record is not judged.
	sureRegeneration = 0.8
)

// SaltDrawWatch finds regenerations that drew too little or too much brine.
//
// Needs: brine_level. Sharper with the drain's meter.
// Statistic: the logarithm of brine drawn over what the dose makes, against the
// home's own mean (the profile's figure until the home has shown its own), in
// two one-sided cumulative sums. A draw off by half is found at once, one off
// by a quarter by the third regeneration. And the pace of the draw, likewise, where
// it still draws enough (severity plan).
// Smallest fault visible: about 20 % against a home's own normal.
// Learning is gated: only regenerations within two standard deviations, with
// both sums low, move the normal.
// Closes at the first regeneration back within two standard deviations.
// Source: CUSUM after Page (1954); run length by Siegmund (1985).
type SaltDrawWatch struct {
	Draw, Drain, RefillWater normal
	Refilled                 refilled
	Pace                     normal    // L/min of the draw, over 1
	Slow                     float64   // cumulative sum of a pace that falls
	SlowFrom                 time.Time // it left zero
	BySlow                   bool      // a slow draw stands
	Before                   time.Time // start of the regeneration before
	Low, High                float64   // the cumulative sums
	Standing                 detect.Kind
	Onset                    time.Time
	Count                    int // regenerations out of proportion since onset
}

// Step judges a regeneration when one has finished.
func (d *SaltDrawWatch) Step(v *View) *Verdict {
	r := v.Record
	if r == nil || r.Confidence < sureRegeneration || math.IsNaN(r.BrineLitres) || r.Ending == regeneration.CutShort {
		return nil
	}
	ratio := math.Max(r.BrineLitres, 0) / doseLitres(v.Home)
	z := d.Draw.deviation(ratio)
	if z > 0 && (d.poresFilled(v, ratio) || v.filledSince(d.Before)) {
		z = 0
	}
	d.Before = r.Start
	d.add(r, z)
	slow := d.pace(r)
	if d.Standing != "" && math.Abs(z) < drawSound && !(d.BySlow && slow < -drawSound) {
		kind := d.Standing
		*d = SaltDrawWatch{Draw: d.Draw, Drain: d.Drain, RefillWater: d.RefillWater, Refilled: d.Refilled, Before: d.Before, Pace: d.Pace}
		return &Verdict{Kind: kind}
	}
	if verdict := d.verdict(v, r, z, ratio); verdict != nil {
		d.BySlow = false
		return verdict
	}
	if verdict := d.slows(v, slow, ratio); verdict != nil {
		return verdict
	}
	if d.teaches(d.Draw.deviation(ratio)) {
		d.learn(v, r, ratio)
	}
	return nil
}

// pace follows how fast the brine was drawn, in standard deviations from the home's
// own; 0 while that is not known.
func (d *SaltDrawWatch) pace(r *regeneration.Record) float64 {
	if !(r.DrawMinutes >= 4) || !(r.BrineLitres > 0) {
		return 0
	}
	pace := r.BrineLitres / r.DrawMinutes
	if d.Pace.N < drawLearning {
		d.Pace.learn(pace)
		return 0
	}
	z := math.Max(-8, math.Min((math.Log(pace)-d.Pace.Mean)/paceScatter, 8))
	before := d.Slow
	if d.Slow = math.Min(math.Max(0, d.Slow-z-drawSlack), 2*drawLimit); before == 0 {
		d.SlowFrom = r.Start
	}
	if math.Abs(z) < drawSound && d.Slow < 1 {
		d.Pace.learn(pace)
	}
	return z
}

// slows speaks of a draw that takes ever longer although it still draws enough: an
// injector that plugs, air that gets in, a brine line that closes. Before long the
// time runs out.
func (d *SaltDrawWatch) slows(v *View, z, ratio float64) *Verdict {
	share := math.Exp(z * paceScatter)
	if d.Standing != "" || d.Slow < drawLimit || z > -drawSlack || share > 1-paceLeast {
		return nil
	}
	d.Standing, d.BySlow, d.Onset = detect.SaltDrawLow, true, d.SlowFrom
	r := v.Record
	minutes := time.Duration(r.DrawMinutes * float64(time.Minute))
	usual := time.Duration(r.BrineLitres / math.Exp(d.Pace.Mean) * float64(time.Minute))
	e := detect.Evidence{"sign": "slow", "draw_pace_share": round(share, 2), "draw_min": r.DrawMinutes, "usual_draw_min": round(usual.Minutes(), 0),
		"drawn_l": round(r.BrineLitres, 2), "drawn_share": round(ratio/d.Draw.factor(), 3), "confidence": round(r.Confidence, 3)}
	return &Verdict{Kind: detect.SaltDrawLow, Standing: true, Severity: detect.Plan, Onset: d.Onset, Evidence: e,
		Summary: fmt.Sprintf("The brine is drawn more slowly than it used to be: in %s instead of %s. It still suffices, but the rinse after it is short of that time, and soon too little will be drawn: injector, brine line and float want a look.", minutesText(minutes), minutesText(usual))}
}

// filledSince says whether salt was filled in after a time: what it displaces is
// drawn once, and no more.
func (v *View) filledSince(t time.Time) bool {
	return v.Books != nil && !t.IsZero() && v.Books.Salt.FilledAt >= t.Unix()
}

// poresFilled says that the level moves further both ways in a refill as long as
// ever: not more brine, but less room for it. That is salt_bridge's to say.
func (d *SaltDrawWatch) poresFilled(v *View, ratio float64) bool {
	drawn := math.Log(ratio / d.Draw.factor())
	filled := math.Log(v.Record.RefillLitres / (doseLitres(v.Home) * d.RefillWater.factor()))
	return !d.learning() && math.Abs(drawn-filled) < poresAlike && d.Refilled.more(v) < filled/2
}

// add moves the sums; a sum that starts to rise marks the onset.
func (d *SaltDrawWatch) add(r *regeneration.Record, z float64) {
	if math.Abs(z) >= drawAtOnce { // as far as a sum needs to go
		z = math.Copysign(math.Max(math.Abs(z), drawLimit+drawSlack), z)
	} else if d.learning() {
		return
	}
	wasQuiet := d.Low == 0 && d.High == 0
	d.Low = math.Min(math.Max(0, d.Low-z-drawSlack), 2*drawLimit)
	d.High = math.Min(math.Max(0, d.High+z-drawSlack), 2*drawLimit)
	if wasQuiet {
		d.Onset, d.Count = r.Start, 0
	}
	if d.Low > 0 || d.High > 0 {
		d.Count++
	}
}

func (d *SaltDrawWatch) learning() bool { return d.Draw.N < drawLearning }

// teaches says whether a regeneration this far off may move the normal.
func (d *SaltDrawWatch) teaches(z float64) bool {
	if d.learning() {
		return math.Abs(z) < drawBelievable
	}
	return math.Abs(z) < drawSound && d.Low < 1 && d.High < 1
}

func (d *SaltDrawWatch) learn(v *View, r *regeneration.Record, ratio float64) {
	d.Draw.learn(ratio)
	d.Drain.learn(r.DrainLitres / programmeDrain(v.Home))
	d.RefillWater.learn(r.RefillLitres / doseLitres(v.Home))
	d.Refilled.learn(v, r)
}

// cellar is the temperature taken for brine, degC; saturated brine holds the
// same salt per litre within 0.2 % from 0 to 40.
const cellar = 20.0

// doseLitres is the saturated brine that holds the programmed dose, L.
func doseLitres(h *detect.Home) float64 {
	return brine.BrineFor(h.Softener.Salt, h.Softener.SaltDose, cellar)
}

// programmeDrain is the water that the programmed cycle sends to the drain, L.
func programmeDrain(h *detect.Home) float64 {
	sum := 0.0
	for _, p := range h.Softener.Cycle {
		if p.Phase != detect.Refill {
			sum += p.Duration.Minutes() * p.Flow
		}
	}
	return sum
}

// verdict speaks when a sum has crossed the limit and this regeneration itself
// is off in its direction.
func (d *SaltDrawWatch) verdict(v *View, r *regeneration.Record, z, ratio float64) *Verdict {
	var kind detect.Kind
	switch {
	case d.Low >= drawLimit && z < -drawSlack:
		kind = detect.SaltDrawLow
	case d.High >= drawLimit && z > drawSlack:
		kind = detect.SaltDrawHigh
	}
	if kind == "" || d.Standing != "" && d.Standing != kind {
		return nil
	}
	d.Standing = kind
	expected := doseLitres(v.Home)
	usual := expected * d.Draw.factor()
	perLitre := brine.SaturatedSalt(v.Home.Softener.Salt, cellar)
	e := detect.Evidence{
		"drawn_l":       round(ratio*expected, 2),
		"usual_l":       round(usual, 2),
		"drawn_share":   round(ratio*expected/usual, 3),
		"salt_kg":       round(ratio*expected*perLitre, 2),
		"usual_salt_kg": round(usual*perLitre, 2),
		"regenerations": d.Count,
		"confidence":    round(r.Confidence, 3),
	}
	putShare(e, "drain_share", r.DrainLitres/(programmeDrain(v.Home)*d.Drain.factor()))
	putShare(e, "refill_share", r.RefillLitres/(expected*d.RefillWater.factor()))
	return &Verdict{Kind: kind, Standing: true, Severity: detect.ThisWeek, Onset: d.Onset, Evidence: e, Summary: d.say(v, kind, ratio*expected, usual)}
}

// putShare leaves out what the home's sensors do not show.
func putShare(e detect.Evidence, key string, share float64) {
	if !math.IsNaN(share) && !math.IsInf(share, 0) {
		e[key] = round(share, 3)
	}
}

func (d *SaltDrawWatch) say(v *View, kind detect.Kind, drawn, usual float64) string {
	u := wordsFor(v.Home.Units)
	perLitre := brine.SaturatedSalt(v.Home.Softener.Salt, cellar)
	salt, usualSalt := u.mass(drawn*perLitre), u.mass(usual*perLitre)
	times := "The last regeneration"
	if d.Count > 1 {
		times = fmt.Sprintf("The last %d regenerations", d.Count)
	}
	if kind == detect.SaltDrawLow {
		return fmt.Sprintf("%s used too little salt: %s instead of about %s. The water may turn hard.", times, salt, usualSalt)
	}
	return fmt.Sprintf("%s used too much salt: %s instead of about %s.", times, salt, usualSalt)
}
