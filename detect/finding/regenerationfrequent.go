package finding

import (
	"fmt"
	"math"
	"time"

	"brinebell/detect"
)

const (
	// frequentScatter is that of the logarithm of what a sound home uses between
	// two regenerations about its own mean; the profile is off from that by
	// frequentProfile: hardness, meter and setting, each some percent.
	frequentScatter, frequentProfile = 0.15, 0.18
	// frequentSlack and frequentLimit are the cumulative sum's reference value and
	// decision interval in standard deviations: in control about one signal in
	// 18,000 regenerations (Siegmund's approximation, D = -1, b = 5.2).
	frequentSlack, frequentLimit = 1.0, 4.0
	// frequentEarly is how many days before its interval a timed control, or
	// before its override a metered one, is early.
	frequentEarly = 1.5
	// frequentOnce is how many days two cycles must lie apart to be two: a bed of
	// household size is not used up in an evening.
	frequentOnce = 0.25
)

// RegenerationFrequentWatch finds regenerations that come too often for the water
// used.
//
// Needs: a witness of regenerations, and for a metered control a flow point.
// Statistic: the logarithm of hardness taken up since the one before over what
// the control allows, about the home's own mean (the profile's until it is
// known), in a one-sided cumulative sum that at least two regenerations must
// have raised. Starts by hand, and what the override or interval brings on, are
// not judged. Two tanks in turn and a control that does not wait keep no reserve
// and are held to the whole capacity.
// Smallest fault visible: about a quarter more often.
// Closes after two regenerations in proportion.
// Source: CUSUM after Page (1954); run length by Siegmund (1985).
type RegenerationFrequentWatch struct {
	Own      normal
	Low      float64
	Early    int // timed: early ones in a row
	Count    int
	Calm     int
	Standing bool
	Onset    time.Time
	Before   time.Time // start of the regeneration before
	Known    int       // minutes since it with known water
}

// Step judges a regeneration when one has finished.
func (d *RegenerationFrequentWatch) Step(v *View) *Verdict {
	if v.Minute.Values[detect.ServiceFlow] >= 0 || v.Minute.Values[detect.InletFlow] >= 0 && !v.Sensors.HasFlow(detect.ServiceFlow) {
		d.Known++
	}
	if v.Record == nil {
		return nil
	}
	before, known := d.Before, float64(d.Known)
	d.Before, d.Known = v.Record.Start, 0
	e := v.judged()
	if e == nil || before.IsZero() || v.Record.Manual {
		return nil
	}
	days := v.Record.Start.Sub(before).Hours() / 24
	s := v.Home.Softener
	if days < frequentOnce {
		return nil
	}
	if s.DaysOverride > 0 && days > float64(s.DaysOverride)-frequentEarly {
		d.Early = 0
		return d.calm()
	}
	if s.Control == detect.Timed {
		return d.timed(v, days)
	}
	if known < waterKnown*days*1440 {
		return nil // what was drawn in a gap would be missing
	}
	return d.metered(v, usedUp(v.Home, float64(e.Removed)), days)
}

func (d *RegenerationFrequentWatch) timed(v *View, days float64) *Verdict {
	if d.Early++; d.Early == 1 {
		d.mark(v, days)
	}
	if d.Early < 2 || d.Standing {
		return nil
	}
	d.Standing, d.Count, d.Calm = true, d.Early, 0
	return d.verdict(v, math.NaN(), days)
}

func (d *RegenerationFrequentWatch) mark(v *View, days float64) {
	d.Onset, d.Count = v.Record.Start.Add(-time.Duration(days*24*float64(time.Hour))), 0
}

func (d *RegenerationFrequentWatch) metered(v *View, share, days float64) *Verdict {
	if math.IsNaN(share) || share <= 0 || float64(v.Entry.LeftBefore) != float64(v.Entry.LeftBefore) {
		return nil // nobody saw enough of the water
	}
	mean, sd := d.Own.beliefWith(frequentProfile, frequentScatter)
	// A delayed control never comes before its capacity is used, so that the
	// profile itself says what is least.
	z := (math.Log(math.Max(share, 0.02)) - math.Max(mean, 0)) / math.Hypot(sd, frequentScatter)
	if d.Low == 0 && z < -frequentSlack {
		d.mark(v, days)
	}
	d.Low = math.Min(math.Max(0, d.Low-z-frequentSlack), 2*frequentLimit)
	if d.Low > 0 {
		d.Count++
	}
	switch {
	case !d.Standing && d.Low >= frequentLimit && d.Count >= 2 && z < -frequentSlack:
		d.Standing, d.Calm = true, 0
		return d.verdict(v, share, days)
	case z > -frequentSlack:
		if d.Low < 1 {
			d.Own.learn(math.Min(share, 3))
		}
		return d.calm()
	}
	d.Calm = 0
	return nil
}

// calm counts a regeneration in proportion.
func (d *RegenerationFrequentWatch) calm() *Verdict {
	if !d.Standing {
		return nil
	}
	if d.Calm++; d.Calm < 2 {
		return nil
	}
	d.Standing, d.Low, d.Early, d.Count, d.Calm = false, 0, 0, 0, 0
	return &Verdict{Kind: detect.RegenerationFrequent}
}

func (d *RegenerationFrequentWatch) verdict(v *View, share, days float64) *Verdict {
	s := v.Home.Softener
	e := detect.Evidence{"days_since": round(days, 2), "override_days": s.DaysOverride, "regenerations": d.Count, "litres_since": round(float64(v.Entry.Litres), 0)}
	cost := ""
	if extra := 1/math.Min(share, 1) - 1; extra > 0 {
		e["capacity_used_share"] = round(share, 3)
		if mean := math.Exp(math.Max(d.Own.Mean, 0)); d.Own.N > 0 {
			e["usual_share"] = round(mean, 3)
		}
		perYear := s.SaltDose / math.Max(days, 0.2) * (1 - math.Min(share, 1)) * 365.25
		e["wasted_salt_kg_per_year"] = round(perYear, 0)
		cost = fmt.Sprintf(" That wastes about %s of salt a year.", wordsFor(v.Home.Units).mass(perYear))
	}
	for k, x := range e {
		if f, ok := x.(float64); ok && f != f {
			delete(e, k)
		}
	}
	return &Verdict{Kind: detect.RegenerationFrequent, Standing: true, Severity: detect.Plan, Onset: d.Onset, Evidence: e,
		Summary: fmt.Sprintf("The softener regenerates more often than the water used calls for: the last %d times after only %s days.%s", max(d.Count, 2), figures(days), cost)}
}
