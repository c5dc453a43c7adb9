package finding

import (
	"fmt"
	"time"

	"brinebell/detect"
)

const (
	// deadUses and deadLitres are how much another meter must have shown, in
	// separate uses, since this one last moved. Ordinary taps all pass both.
	deadUses   = 6
	deadLitres = 40.0
	// useFlow is by how much a use stands out from what always runs, L/min, and
	// baseMinutes in how many minutes that is learnt.
	useFlow, baseMinutes = 0.4, 30
	// usePulses is how many pulses a use must have, leastWitness how many litres.
	usePulses, leastWitness = 2.5, 1.0
	// bypassedFactor is how many times as much is asked where some taps are fed
	// before the softener: those uses never reach its meter.
	bypassedFactor = 8
	// gardenLitres is a use too large to be indoors; where taps are bypassed it
	// says nothing of the softener's meter.
	gardenLitres = 150.0
	// deadDrain is the water that must have run from the softener's drain while
	// a meter before it stood still, L. A backwash passes it in minutes.
	deadDrain = 25.0
	// leastDrain is the least such flow, L/min, over drainSpan minutes: four times what a
	// class 2 meter must register (Q1 of Q3 2.5 m3/h at R80 is 31.25 L/h, ISO 4064), more
	// than worn seals pass and less than any backwash.
	leastDrain, drainSpan = 2.0, 15
	// flushed is the water after which what stands at the cold tap came after the
	// meter's last movement, L, and firstDay how long its hardness is listened to:
	// with the bypass open it is hard at once, behind a dead meter it turns hard when
	// the bed is used up, days later.
	flushed  = 15.0
	firstDay = 24 * time.Hour
	// softBefore is the share of raw hardness below which water must have been before,
	// for its hardness now to say anything: behind a spent bed it is hard anyway.
	softBefore = 0.1
	// awaited is how long a reading of the cold tap's hardness is waited for, which
	// tells the two apart before anybody is sent: probes speak every hour or so.
	awaited = 2 * time.Hour
	// retold is how often the evidence of a standing finding is told anew.
	retold = 24 * time.Hour
	// asleep is the silence after which a home without a second witness is
	// asked about, and asleepFactor how many times the longest absence seen
	// before it must exceed.
	asleep       = 21 * 24 * time.Hour
	asleepFactor = 3
	// revived is what a meter without a second witness must show for a standing
	// finding to end, L.
	revived = 2.0
	// compared is over how much water a standing finding is held against its
	// witness, L, and mostly the share the meter must have seen of it to be
	// sound again: a loose cable that lets through a pulse now and then is not.
	compared = 60.0
	mostly   = 0.6
)

// meterWatch follows one meter for signs that it stands still while water runs.
type meterWatch struct {
	Moved     time.Time     // when it last moved
	Longest   time.Duration // longest stillness that ended by itself
	Witnessed float64       // litres that another meter showed since
	Uses      int           // separate uses it showed
	Seep      float64       // L/min of the witness's water that runs to the drain, over the same time
	Flow      float64       // the drain's, L/min, over the last quarter of an hour
	Drained   float64       // litres down the drain since, which had to pass this meter
	Base      float64       // L/min that always run at the witness: a leak is no use
	InUse     bool          // the witness is in a use
	Use       float64       // litres of that use
	Idle      int           // minutes without flow since the witness's last flow
	Revived   float64       // litres shown while a finding stands, since Witness was last 0
	Witness   float64       // litres the other meter showed meanwhile
	Cold      float64       // sum of the cold tap's hardness, mg/L, on the first day with water
	Tests     int           // readings in it
	Convicted time.Time     // when the other meter had shown enough
	Before    float64       // hardness at the cold tap when it last moved, mg/L
}

// MeterDeadWatch finds a meter that shows nothing while water is used.
//
// Needs: one flow point. Certain with a second witness: another meter, or the
// drain in a regeneration.
// Statistic: litres and separate uses that a witness showed since the meter
// last moved. A house with everybody away uses no water at any meter, so it
// never counts. Without any witness stillness alone is evidence: after three
// weeks, and three times the longest absence known here, it is asked about
// (severity plan), not claimed.
// False alarms: a witness's noise would have to imitate six uses and 40 L.
// Smallest fault visible: the whole loss of a meter; under-reading is another
// finding.
// Closes when the meter has shown two litres again.
// Source: common practice, no source.
type MeterDeadWatch struct {
	Inlet, Service meterWatch
	Standing       bool
	Point          detect.Signal
	Onset          time.Time
	Witness        string    // what convicted it
	Told           time.Time // when its evidence was last told
	Returns        int       // times that a meter had stood still and counted again
}

// Step looks at both meters.
func (d *MeterDeadWatch) Step(v *View) *Verdict {
	if d.Standing {
		return d.stepStanding(v)
	}
	if why := d.inspect(v, &d.Inlet, detect.InletFlow, detect.ServiceFlow); why != "" {
		return d.raise(v, &d.Inlet, detect.InletFlow, why)
	}
	if why := d.inspect(v, &d.Service, detect.ServiceFlow, detect.InletFlow); why != "" {
		return d.raise(v, &d.Service, detect.ServiceFlow, why)
	}
	return nil
}

func (d *MeterDeadWatch) watch(point detect.Signal) *meterWatch {
	if point == detect.ServiceFlow {
		return &d.Service
	}
	return &d.Inlet
}

// inspect counts one minute and names what convicts the meter, or nothing.
func (d *MeterDeadWatch) inspect(v *View, w *meterWatch, point, other detect.Signal) string {
	flow, ok := v.Minute.Get(point)
	if !ok {
		return ""
	}
	if w.Moved.IsZero() || flow > 0 {
		if !w.Moved.IsZero() && !v.away(w.Moved, v.Minute.Start) {
			w.Longest = max(w.Longest, v.Minute.Start.Sub(w.Moved))
		}
		before := w.Before
		if cold, ok := v.Minute.Get(detect.ColdHardness); ok {
			before = cold
		}
		*w = meterWatch{Moved: v.Minute.Start, Longest: w.Longest, Base: w.Base, Flow: w.Flow, Seep: w.Seep, Before: before}
		return ""
	}
	w.count(v, point, other)
	factor := 1
	if point == detect.ServiceFlow && len(v.Home.Bypassed) > 0 {
		factor = bypassedFactor
	}
	still := v.Minute.Start.Sub(w.Moved)
	switch {
	case w.Drained >= deadDrain:
		return "drain"
	case w.Uses >= deadUses*factor && w.Witnessed >= deadLitres*float64(factor):
		if w.awaits(v, point) {
			return ""
		}
		return pointName(other)
	case !v.Sensors.HasFlow(other) && still >= asleep && still >= asleepFactor*w.Longest && !v.away(w.Moved, v.Minute.Start):
		return "nothing"
	}
	return ""
}

// awaits says whether the cold tap's hardness, which tells a dead meter from an
// open bypass, has yet to be read and soon will be.
func (w *meterWatch) awaits(v *View, point detect.Signal) bool {
	if w.Convicted.IsZero() {
		w.Convicted = v.Minute.Start
	}
	return point == detect.ServiceFlow && w.Tests == 0 && v.Sensors.Has(detect.ColdHardness) && v.Minute.Start.Sub(w.Convicted) < awaited
}

// count takes in a minute in which the meter stood still.
func (w *meterWatch) count(v *View, point, other detect.Signal) {
	w.countWitness(v, point, other)
	w.countDrain(v, point)
	if w.Witnessed < flushed || v.Regenerating || v.Minute.Start.Sub(w.Moved) > firstDay {
		return
	}
	if cold, ok := v.Minute.Get(detect.ColdHardness); ok {
		w.Cold, w.Tests = w.Cold+cold, w.Tests+1
	}
}

// countWitness counts the other meter's uses. The softener's meter is passed by
// all water of the house only where no tap is fed before it.
func (w *meterWatch) countWitness(v *View, point, other detect.Signal) {
	flow, ok := v.Minute.Get(other)
	if !ok || v.Regenerating {
		return
	}
	if drain, seen := v.Minute.Get(detect.DrainFlow); seen && v.beforeDrain(other) {
		w.Seep += (drain - w.Seep) / drainSpan // its pulses fall into other minutes
		flow = max(0, flow-w.Seep)
	}
	if flow > w.Base+useFlow {
		w.InUse, w.Idle = true, 0
		w.Use += flow - w.Base
		return
	}
	if w.Base = min(flow, w.Base+(flow-w.Base)/baseMinutes); w.Base < 0 {
		w.Base = 0
	}
	if w.Idle++; !w.InUse || w.Idle < 2 {
		return
	}
	if w.Use < max(leastWitness, usePulses*v.pulseAt(other)) {
		w.InUse, w.Use = false, 0 // single pulses, as of a trickle
		return
	}
	if point == detect.InletFlow || len(v.Home.Bypassed) == 0 || w.Use < gardenLitres {
		w.Uses++
		w.Witnessed += w.Use
	}
	w.InUse, w.Use = false, 0
}

// countDrain counts water that reached the drain although the meter before it
// stood still.
func (w *meterWatch) countDrain(v *View, point detect.Signal) {
	drain, ok := v.Minute.Get(detect.DrainFlow)
	if !ok || !v.beforeDrain(point) {
		return
	}
	// A pulse of a litre is no flow of a litre a minute: a trickle may not turn the
	// meter, a rinse does.
	if w.Flow += (drain - w.Flow) / drainSpan; w.Flow >= leastDrain {
		w.Drained += drain
	}
}

// beforeDrain says whether all drain water has passed the flow point.
func (v *View) beforeDrain(point detect.Signal) bool {
	return point == detect.InletFlow ||
		point == detect.ServiceFlow && v.Home.Meters.Service != nil && !v.Home.Meters.Service.Downstream
}

func (v *View) away(from, to time.Time) bool {
	for _, s := range v.Home.Away {
		if s.From.Before(to) && from.Before(s.To) {
			return true
		}
	}
	return false
}

func (d *MeterDeadWatch) raise(v *View, w *meterWatch, point detect.Signal, witness string) *Verdict {
	d.Standing, d.Point, d.Onset, d.Witness = true, point, w.Moved, witness
	return d.tell(v, w)
}

// tell says what is known by now.
func (d *MeterDeadWatch) tell(v *View, w *meterWatch) *Verdict {
	d.Told = v.Minute.Start
	point, witness := d.Point, d.Witness
	still := v.Minute.Start.Sub(w.Moved)
	e := detect.Evidence{
		"meter":            pointName(point),
		"witness":          witness,
		"still_hours":      round(still.Hours(), 1),
		"longest_before_h": round(w.Longest.Hours(), 1),
		"witness_l":        round(w.Witnessed, 1),
		"witness_uses":     w.Uses,
		"drain_l":          round(w.Drained, 1),
		"came_back":        d.Returns,
	}
	if w.Tests > 0 && w.Before <= softBefore*v.Books.RawHardness() {
		putShare(e, "cold_share", w.Cold/float64(w.Tests)/v.Books.RawHardness())
	}
	severity := detect.ThisWeek
	if witness == "nothing" {
		severity = detect.Plan
	}
	return &Verdict{Kind: detect.MeterDead, Standing: true, Severity: severity, Onset: d.Onset, Evidence: e, Summary: w.say(v, point, witness)}
}

func (w *meterWatch) say(v *View, point detect.Signal, witness string) string {
	u := wordsFor(v.Home.Units)
	meter := map[detect.Signal]string{detect.InletFlow: "house meter", detect.ServiceFlow: "softener's meter"}[point]
	since := w.Moved.In(v.Home.Location).Format("2 January 15:04")
	switch witness {
	case "nothing":
		return fmt.Sprintf("The %s has shown no water for %s. Is everybody away, or has the meter stopped?", meter, daysText(v.Minute.Start.Sub(w.Moved)))
	case "drain":
		return fmt.Sprintf("The %s has stood still since %s, although %s ran from the softener to the drain.", meter, since, u.volume(w.Drained))
	}
	return fmt.Sprintf("The %s has stood still since %s, although the other meter counted %d uses of water, %s in all.", meter, since, w.Uses, u.volume(w.Witnessed))
}

func (d *MeterDeadWatch) stepStanding(v *View) *Verdict {
	w := d.watch(d.Point)
	flow, ok := v.Minute.Get(d.Point)
	if !ok {
		return nil
	}
	if !w.sound(v, d.Point, flow) {
		return d.stand(v, w, flow)
	}
	d.Standing = false
	d.Returns++
	d.Inlet = meterWatch{Moved: v.Minute.Start, Longest: d.Inlet.Longest}
	d.Service = meterWatch{Moved: v.Minute.Start, Longest: d.Service.Longest}
	return &Verdict{Kind: detect.MeterDead}
}

// stand keeps counting while the meter stands still, and tells once a day what
// has come to be known: water at the drain of a softener whose meter shows none
// speaks against an open bypass.
func (d *MeterDeadWatch) stand(v *View, w *meterWatch, flow float64) *Verdict {
	if flow > 0 {
		return nil
	}
	other := detect.InletFlow
	if d.Point == detect.InletFlow {
		other = detect.ServiceFlow
	}
	uses, drained, tests := w.Uses, w.Drained, w.Tests
	w.count(v, d.Point, other)
	if tests == 0 && w.Tests > 0 {
		return d.tell(v, w)
	}
	if w.Drained >= deadDrain && drained < deadDrain {
		d.Witness = "drain"
		return d.tell(v, w)
	}
	if w.Uses == uses || v.Minute.Start.Sub(d.Told) < retold {
		return nil
	}
	return d.tell(v, w)
}

// sound says whether the meter has shown that it counts again.
func (w *meterWatch) sound(v *View, point detect.Signal, flow float64) bool {
	w.Revived += flow
	other := detect.InletFlow
	if point == detect.InletFlow {
		other = detect.ServiceFlow
	}
	if !v.Sensors.HasFlow(other) {
		return w.Revived >= revived
	}
	if witness, ok := v.Minute.Get(other); ok {
		w.Witness += witness
	}
	// Where taps are fed before the softener the house meter sees more.
	if point == detect.ServiceFlow && len(v.Home.Bypassed) > 0 {
		return w.Revived >= compared
	}
	if w.Witness < compared {
		return false
	}
	sound := w.Revived >= mostly*w.Witness
	w.Revived, w.Witness = 0, 0
	return sound
}
