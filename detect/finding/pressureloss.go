package finding

import (
	"fmt"
	"math"
	"time"

	"brinebell/detect"
	"brinebell/detect/sequential"
)

const (
	// curveMinutes is how many steady minutes a home's own curve is learnt from,
	// and curveDays over how many days at least.
	curveMinutes, curveDays = 100, 7
	// leastLossFlow is the least flow at which the loss is looked at, L/min.
	leastLossFlow = 3.0
	// gaugeNoise is the scatter of one minute's difference of two gauges, kPa.
	gaugeNoise = 1.0
	// lossScatter is by how much a day's loss strays from the curve for reasons of
	// its own, as a share; without the water's temperature the seasons are in
	// it: water of 7 degC is 1.3 times as thick as of 17.
	lossScatter, lossScatterBlind = 0.04, 0.10
	// lossSlack and lossLimit are k and h of the CUSUM over days, in standard
	// deviations: with the temperature known growth of 20 % is 5 of them at most.
	lossSlack, lossLimit = 1.5, 7.0
	// dayWeight is the least weight of a day for it to count: about ten minutes at an
	// ordinary flow, kPa squared.
	dayWeight = 80.0
	// lossMost is a ratio that no bed comes to: a gauge's fault. A screen or a bed
	// that silts up to a fifth of its opening resists 25 times as much.
	lossMost = 40
	// frozen is how many minutes in a row a gauge may show exactly the same before
	// it is not believed.
	frozen = 10
	// metersApart is how much less than the house meter the softener's may show in a
	// day's steady minutes; more is a slow meter, not a loss.
	metersApart = 0.05
	// curveFits is the least share of the losses' squares that the curve must explain.
	curveFits = 0.8
	// lossLeast is the least growth claimed, as a share.
	lossLeast = 0.1
)

// PressureLossWatch finds a softener that resists more than it used to.
//
// Needs: inlet_pressure, outlet_pressure and the softener's flow (or the house's where no tap is
// fed before it). Sharper with water_temperature.
// Statistic: the difference of the pressures in steady minutes against the home's
// own curve a·Q·viscosity + b·Q² (Ergun's two terms), learnt over the first seven
// days or more and then kept; a CUSUM over daily ratios. The main's pressure is in
// both gauges and falls out, their zero is taken from minutes without flow.
// False alarms: less than one in 10,000 days were days independent (Siegmund:
// D = -1.5, b = 8.2).
// Smallest fault visible: growth by a tenth, with the temperature; a bed that was
// clogged from the first day is not seen, for nothing says what it should be.
// Closes when three days in a row are within 5 % of the curve.
// Source: Ergun, Chem. Eng. Prog. 48, 89 (1952); viscosity by Vogel's equation.
type PressureLossWatch struct {
	Flows, Losses [2]float64 // of the two minutes before: L/min, kPa
	Zero          sequential.Moments
	QQ, QS, SS    float64 // sums of x², x·s, s² with x = Q·viscosity, s = Q²
	QP, SP, PP    float64 // sums of loss·x, loss·s and loss²
	Gauges        [2]float64
	Same          [2]int // minutes in a row that each gauge showed that
	N             int    // steady minutes in them
	First         time.Time
	A, B          float64 // the curve; zero until learnt
	Dot, Weight   float64 // the day's sums of loss·model and model²
	In, Soft      float64 // litres by two meters in the minutes of these
	Day           int
	Growth        sequential.CUSUM
	Onset         time.Time
	Recent        float64 // mean ratio since the sum left zero
	Told          float64 // as last told
	Count         float64
	Standing      bool
	Calm          int
}

// Step looks at the pressures.
func (d *PressureLossWatch) Step(v *View) *Verdict {
	before, ok := v.Minute.Get(detect.InletPressure)
	if !ok {
		return nil
	}
	after, ok := v.Minute.Get(detect.OutletPressure)
	flow, known := d.flow(v)
	if !ok || !known || v.Regenerating || d.frozen(before, after) {
		d.Flows = [2]float64{}
		return nil
	}
	loss := before - after
	var verdict *Verdict
	if day := v.Local.YearDay(); day != d.Day {
		verdict = d.endDay(v)
		d.Day, d.Dot, d.Weight = day, 0, 0
	}
	if flow == 0 && d.Flows[1] == 0 && math.Abs(loss) < 20 {
		d.Zero.Memory = 10000
		d.Zero.Add(loss)
	}
	d.steady(v, flow)
	d.Flows, d.Losses = [2]float64{d.Flows[1], flow}, [2]float64{d.Losses[1], loss}
	return verdict
}

// frozen says whether one of the gauges has stood still for too long.
func (d *PressureLossWatch) frozen(now ...float64) bool {
	still := false
	for i, x := range now {
		if d.Same[i]++; x != d.Gauges[i] {
			d.Gauges[i], d.Same[i] = x, 0
		}
		still = still || d.Same[i] > frozen
	}
	return still
}

// flow is what passes the softener. Where two meters see all of it they must
// agree: a slow one, or an open bypass, would bend the curve.
func (d *PressureLossWatch) flow(v *View) (float64, bool) {
	soft, seen := v.Minute.Get(detect.ServiceFlow)
	in, ok := v.Minute.Get(detect.InletFlow)
	switch {
	case len(v.Home.Bypassed) > 0:
		return soft, seen && (!ok || soft > 0.9*in || in == 0)
	case !seen:
		return in, ok
	case ok && math.Abs(in-soft) > 0.1*in+v.pulseAt(detect.InletFlow)+v.pulseAt(detect.ServiceFlow):
		return 0, false
	}
	return soft, true
}

// steady takes in the minute before this one when the flow was the same before and after it.
func (d *PressureLossWatch) steady(v *View, next float64) {
	flow, loss := d.Flows[1], d.Losses[1]
	if flow < leastLossFlow || math.Abs(d.Flows[0]-flow) > 0.15*flow || math.Abs(next-flow) > 0.15*flow {
		return
	}
	loss -= d.Zero.Mean
	x, s := flow*d.thick(v), flow*flow
	if d.A == 0 && d.B == 0 {
		if d.First.IsZero() {
			d.First = v.Minute.Start
		}
		d.QQ, d.QS, d.SS = d.QQ+x*x, d.QS+x*s, d.SS+s*s
		d.QP, d.SP = d.QP+loss*x, d.SP+loss*s
		d.PP += loss * loss
		d.N++
		return
	}
	if in, ok := v.Minute.Get(detect.InletFlow); ok {
		d.In, d.Soft = d.In+in, d.Soft+next
	}
	m := d.A*x + d.B*s
	d.Dot, d.Weight = d.Dot+loss*m, d.Weight+m*m
}

// thick is the water's viscosity over that at 15 degC, 1 where nobody measures.
func (d *PressureLossWatch) thick(v *View) float64 {
	if !v.Sensors.Has(detect.WaterTemperature) || v.Books.Temperature != v.Books.Temperature {
		return 1
	}
	vogel := func(t float64) float64 { return math.Pow(10, 247.8/(t+273.15-140)) }
	return vogel(v.Books.Temperature) / vogel(15)
}

func (d *PressureLossWatch) endDay(v *View) *Verdict {
	if d.A == 0 && d.B == 0 {
		if d.N >= curveMinutes && v.Minute.Start.Sub(d.First) >= curveDays*24*time.Hour {
			d.learn()
		}
		return nil
	}
	if d.Weight < dayWeight {
		return nil
	}
	ratio := d.Dot / d.Weight
	slow := d.Soft < (1-metersApart)*d.In
	d.In, d.Soft = 0, 0
	if ratio < 0 || ratio > lossMost || slow {
		return nil
	}
	scatter := lossScatter
	if !v.Sensors.Has(detect.WaterTemperature) {
		scatter = lossScatterBlind
	}
	z := (ratio - 1) / math.Hypot(scatter, gaugeNoise/math.Sqrt(d.Weight))
	if d.Standing {
		return d.stepStanding(v, ratio)
	}
	d.Growth.Reference, d.Growth.Limit = lossSlack, lossLimit
	signal := d.Growth.Add(math.Min(z, 4))
	if d.Growth.Since <= 1 {
		d.Onset, d.Recent, d.Count = v.Minute.Start.Add(-24*time.Hour), 0, 0
	}
	d.Count++
	d.Recent += (ratio - d.Recent) / d.Count
	if !signal || d.Recent < 1+lossLeast {
		return nil
	}
	d.Standing, d.Calm = true, 0
	return d.verdict(v)
}

// recentDays is the weight of a day in what stands, retellGrowth by how many times
// it must have grown to be told anew.
const recentDays, retellGrowth = 0.3, 1.5

// learn solves the two terms by least squares, neither below nothing.
func (d *PressureLossWatch) learn() {
	ridge := 1e-3
	qq, ss := d.QQ*(1+ridge), d.SS*(1+ridge)
	det := qq*ss - d.QS*d.QS
	d.A, d.B = (d.QP*ss-d.SP*d.QS)/det, (d.SP*qq-d.QP*d.QS)/det
	if d.A < 0 {
		d.A, d.B = 0, d.SP/d.SS
	} else if d.B < 0 {
		d.A, d.B = d.QP/d.QQ, 0
	}
	// Less than 1 kPa at 10 L/min is nothing to compare with.
	if d.A*10+d.B*100 < 1 || d.A*d.QP+d.B*d.SP < curveFits*d.PP {
		*d = PressureLossWatch{Zero: d.Zero}
	}
}

// stepStanding follows what has been told, and tells it anew when it has grown.
func (d *PressureLossWatch) stepStanding(v *View, ratio float64) *Verdict {
	d.Recent += recentDays * (ratio - d.Recent)
	if d.Calm++; ratio > 1.05 {
		d.Calm = 0
	}
	if d.Calm < 3 {
		if d.Recent-1 > retellGrowth*(d.Told-1) {
			return d.verdict(v)
		}
		return nil
	}
	d.Standing = false
	d.Growth.Reset(0)
	return &Verdict{Kind: detect.PressureLoss}
}

func (d *PressureLossWatch) verdict(v *View) *Verdict {
	d.Told = d.Recent
	warm := v.Sensors.Has(detect.WaterTemperature)
	e := detect.Evidence{
		"growth_share": round(d.Recent-1, 2), "days": int(d.Count), "loss_at_10_l_per_min_kpa": round(d.Recent*(10*d.A+100*d.B), 1),
		"temperature_known": warm, "smallest_visible_share": lossLeast,
	}
	return &Verdict{Kind: detect.PressureLoss, Standing: true, Severity: detect.Plan, Onset: d.Onset, Evidence: e,
		Summary: fmt.Sprintf("The softener holds water back %.0f %% more than it used to at the same flow, and it is growing: silt or broken resin in its bed, or a filter before it. Showers weaken before long; a service visit can wait for the next occasion.", 100*(d.Recent-1))}
}
