package finding

import (
	"fmt"
	"math"
	"slices"
	"time"

	"brinebell/detect"
	"brinebell/detect/sequential"
)

const (
	// batchLitres is the water over which two meters are compared at a time: a
	// litre pulse then counts for little.
	batchLitres = 150.0
	// meterPrior is how far two sound meters of class 2 differ, one standard
	// deviation (ISO 4064: each within 2 % from Q2, 5 % below); batchScatter
	// the same of one batch about the home's own ratio.
	meterPrior, batchScatter = 0.03, 0.02
	// ratioMost is the most that a home's own ratio may lie from 1.
	ratioMost = 0.06
	// slowSlack and slowLimit are k and h of the cumulative sums over batches, in
	// standard deviations: a false alarm in some 4.8e8 batches were they normal
	// (Siegmund); the margin is for those that are not.
	slowSlack, slowLimit = 1.5, 6.0
	// slowLeast is the least loss that is claimed, as a share.
	slowLeast = 0.07
	// bypassedUse is a use, L, above which a home with taps before the softener
	// says nothing unless both meters agree on it.
	bypassedUse = 60.0
	// drawnFlow is the least flow that is compared, L/min: twice the 0.25 US gal/min from
	// which a meter registers 95 % when it is new (AWWA C700, from memory), and half of
	// that when it is worn (AWWA Water Science 1(1)). pulseLate is how many
	// minutes after it a pulse may still come, leastUse how many pulses make a use.
	drawnFlow, pulseLate, leastUse = 2.0, 1, 3
	// theirs is how many of the last uses may have been those of bypassed taps.
	theirs = 2
	// coarsePulse is the pulse, L, beyond which a minute does not tell a flow.
	coarsePulse = 2.0
	// coarseLeast is the least loss that is claimed then, as a share: worn meters lose
	// a third and more of what runs slowly, and with such pulses that cannot be left out.
	coarseLeast = 0.25
	// plainUse is how many pulses a use must have for its own share to be told.
	plainUse = 8
	// toldApart is how long is waited for a regeneration that tells a slow meter
	// from an open bypass, where the drain's meter would show it.
	toldApart = 7 * 24 * time.Hour
	// dead is the share below which a meter shows nothing.
	dead = 0.03
	// agreed is how many batches in a row must agree again.
	agreed = 3
)

// MeterSlowWatch finds a meter that shows less than another one did: it says
// meter_slow, or bypass_open where what passes the softener's meter is all that
// passes the softener. See BypassEvidence for how the two are told apart.
//
// Needs: inlet and service meters. Sharper with the drain's meter or hardness.
// Statistic: two one-sided CUSUMs on the ratio of the two meters over batches of
// 150 L of water drawn at 2 L/min or more outside regenerations (a trickle turns
// one meter and not the other), against the home's own ratio, which starts at 1
// and is learnt within 6 % of it: a meter that was slow from the first day is
// found too. Where taps are fed before the softener, large uses that the
// softener's meter sees less of are left out, and the two least of every nine.
// False alarms: see slowLimit.
// Smallest fault visible: 7 % of the water, within some 450 L, a quarter of it with
// pulses of more than 2 L; a meter that
// shows nothing at all is meter_dead's.
// Closes after three batches that agree again.
// Source: ISO 4064 error limits; AWWA registration test (95 % at low flow).
type MeterSlowWatch struct {
	In, Soft           float64    // litres of the present use
	Dry                int        // minutes since its last water
	Drawn              int        // minutes still counted
	Uses               [9]float32 // shares of the last uses, where taps are bypassed
	Used               int        // of them in this batch
	Spoiled            bool       // part of it is unknown or a regeneration's
	BatchIn, BatchSoft float64    // litres
	Ratio              float64    // the home's own, less 1
	N                  float64    // batches behind it
	Slow, Fast         sequential.CUSUM
	SinceIn, SinceSoft float64   // litres since the sum that leads left zero
	From               time.Time // start of the batch with which it did
	Begun              time.Time // start of the present batch
	Signalled          time.Time // when the sum passed its limit
	Bypass             BypassEvidence
	Patchy             Patchy
	Told               time.Time   // when its evidence was last told
	ColdBefore         float64     // hardness at the cold tap before the sums rose, mg/L
	Kind               detect.Kind // standing; empty when none does
	Apart              bool        // it was told apart
	Meter              detect.Signal
	Agreed             int
	Dead               bool // one meter showed nothing in the last batch
}

// Step looks at both meters.
func (d *MeterSlowWatch) Step(v *View) *Verdict {
	in, ok := v.Minute.Get(detect.InletFlow)
	soft, both := v.Minute.Get(detect.ServiceFlow)
	if !ok || !both {
		d.Spoiled = d.Spoiled || v.Sensors.HasFlow(detect.InletFlow) && v.Sensors.HasFlow(detect.ServiceFlow)
		return nil
	}
	if in == 0 && soft == 0 {
		if d.Dry++; d.Dry == 2 && (d.In > 0 || d.Soft > 0 || d.Spoiled) {
			return d.endUse(v)
		}
		return nil
	}
	d.Dry = 0
	drain, _ := v.Minute.Get(detect.DrainFlow)
	d.Spoiled = d.Spoiled || v.Regenerating || drain > 0.2
	d.Bypass.hear(v, soft)
	if !d.Spoiled {
		d.Patchy.add(in, soft, v.pulseAt(detect.InletFlow), v.pulseAt(detect.ServiceFlow))
	}
	return d.draw(v, in, soft)
}

// draw takes in a minute in which water ran. A trickle turns one meter and not the
// other, and never ends: what is compared is water that somebody draws, with the
// minute after it for a pulse that comes late.
func (d *MeterSlowWatch) draw(v *View, in, soft float64) *Verdict {
	if d.coarse(v) > coarsePulse { // between two pulses nothing says whether water is drawn
		d.In, d.Soft = d.In+in, d.Soft+soft
		return nil
	}
	if math.Max(in, soft) >= drawnFlow {
		d.Drawn = 1 + pulseLate
	}
	if d.Drawn > 0 {
		d.Drawn--
		d.In, d.Soft = d.In+in, d.Soft+soft
		return nil
	}
	if d.In > 0 || d.Soft > 0 {
		return d.endUse(v)
	}
	d.Spoiled = false
	return nil
}

// endUse books a use and judges when a batch is full.
func (d *MeterSlowWatch) endUse(v *View) *Verdict {
	in, soft, spoiled := d.In, d.Soft, d.Spoiled
	d.In, d.Soft, d.Spoiled, d.Drawn = 0, 0, false, 0
	coarse := d.coarse(v)
	if coarse <= coarsePulse && math.Max(in, soft) < leastUse*coarse {
		return nil // single pulses
	}
	parted := len(v.Home.Bypassed) > 0 && coarse <= coarsePulse
	s := v.Home.Meters.Service
	blind := s != nil && s.Downstream && !v.Sensors.HasFlow(detect.DrainFlow) && in >= 20 && soft < 0.1*in
	garden := len(v.Home.Bypassed) > 0 && in >= bypassedUse && soft < 0.9*in
	if spoiled || blind || garden {
		return nil
	}
	if parted && math.Max(in, soft) >= plainUse*coarse {
		d.Uses[d.Used%len(d.Uses)] = float32(soft / math.Max(in, 0.1))
		d.Used++
	}
	if d.BatchIn == 0 && d.BatchSoft == 0 {
		d.Begun = v.Minute.Start
	}
	d.BatchIn, d.BatchSoft = d.BatchIn+in, d.BatchSoft+soft
	if math.Max(d.BatchIn, d.BatchSoft) < batchLitres {
		return nil
	}
	if parted {
		if d.Used < len(d.Uses) {
			return nil
		}
		d.BatchIn = math.Max(d.BatchIn, batchLitres)
		d.BatchSoft = d.BatchIn * d.most()
	}
	verdict := d.judge(v, d.BatchIn, d.BatchSoft)
	d.BatchIn, d.BatchSoft, d.Used = 0, 0, 0
	return verdict
}

// coarse is the larger of the two meters' pulses, L.
func (d *MeterSlowWatch) coarse(v *View) float64 {
	return math.Max(v.pulseAt(detect.InletFlow), v.pulseAt(detect.ServiceFlow))
}

// most is the mean share of the last uses without the two least. Where taps are
// fed before the softener a few uses are theirs: those are left out, and what a loose
// cable loses in every other use is not.
func (d *MeterSlowWatch) most() float64 {
	sorted := d.Uses
	slices.Sort(sorted[:])
	sum := 0.0
	for _, share := range sorted[theirs:] {
		sum += float64(share)
	}
	return sum / float64(len(sorted)-theirs)
}

// judge takes a batch into the sums.
func (d *MeterSlowWatch) judge(v *View, in, soft float64) *Verdict {
	ratio := soft / math.Max(in, 1)
	mean, sd := d.belief()
	coarse := 0.6 * (v.pulseAt(detect.InletFlow) + v.pulseAt(detect.ServiceFlow)) / math.Max(in, soft)
	z := (mean - ratio) / math.Hypot(math.Hypot(batchScatter, coarse), sd)
	z = math.Max(-8, math.Min(z, 8)) // one odd batch convicts nobody: the limit asks for two
	if d.Kind != "" {
		return d.stepStanding(math.Abs(z) < 2.5)
	}
	// A dead meter's water is meter_dead's to judge, the batch in which it comes
	// back is nobody's.
	if now := in < dead*soft || soft < dead*in; now || d.Dead {
		if d.Dead = now; !now || in < soft {
			d.Slow.Reset(0)
			d.Fast.Reset(0)
			return nil
		}
	}
	d.Slow.Reference, d.Slow.Limit, d.Fast.Reference, d.Fast.Limit = slowSlack, slowLimit, slowSlack, slowLimit
	slow, fast := d.Slow.Add(z), d.Fast.Add(-z)
	if d.Slow.Since <= 1 && d.Fast.Since <= 1 {
		if d.Bypass.Tests > 0 {
			d.ColdBefore = d.Bypass.Hardness / float64(d.Bypass.Tests)
		}
		d.SinceIn, d.SinceSoft, d.From, d.Signalled, d.Bypass, d.Patchy = 0, 0, d.Begun, time.Time{}, BypassEvidence{}, Patchy{}
	}
	d.SinceIn, d.SinceSoft = d.SinceIn+in, d.SinceSoft+soft
	if math.Abs(z) < 3 && d.Slow.Sum < slowLimit/2 && d.Fast.Sum < slowLimit/2 {
		d.learn(ratio - 1)
	}
	since := d.SinceSoft / math.Max(d.SinceIn, 1)
	least := slowLeast
	if d.coarse(v) > coarsePulse {
		least = coarseLeast
	}
	switch {
	case slow && since < mean-least && d.Slow.Since >= 2:
		return d.decide(v, since, ratio)
	case fast && since > mean+least && d.Fast.Since >= 2:
		d.Apart = true
		return d.raise(v, detect.MeterSlow, detect.InletFlow, 1/since)
	}
	return nil
}

// belief is the home's own ratio with its standard error: a normal mean with a
// normal prior.
func (d *MeterSlowWatch) belief() (mean, sd float64) {
	prior, data := 1/(meterPrior*meterPrior), d.N/(batchScatter*batchScatter)
	shift := d.Ratio * data / (prior + data)
	return 1 + math.Max(-ratioMost, math.Min(shift, ratioMost)), math.Sqrt(1 / (prior + data))
}

func (d *MeterSlowWatch) learn(off float64) {
	d.N = math.Min(d.N+1, 4*normalMemory)
	d.Ratio += (off - d.Ratio) / d.N
}

// decide says which of the two it is, or waits for what tells them apart. newest
// is the share seen in the last batch.
func (d *MeterSlowWatch) decide(v *View, share, newest float64) *Verdict {
	if d.Signalled.IsZero() {
		d.Signalled = v.Minute.Start
	}
	open, known := d.Bypass.open(v, share)
	d.Apart = known
	switch {
	case known && open:
		return d.raise(v, detect.BypassOpen, detect.ServiceFlow, share)
	case newest < dead: // a dead meter, or the whole water goes round: not for this one to say
		return nil
	case known || !d.Bypass.awaited(v) || v.Minute.Start.Sub(d.Signalled) >= toldApart:
		return d.raise(v, detect.MeterSlow, detect.ServiceFlow, share)
	}
	return nil
}

func (d *MeterSlowWatch) stepStanding(agrees bool) *Verdict {
	if d.Agreed++; !agrees {
		d.Agreed = 0
	}
	if d.Agreed < agreed {
		return nil
	}
	kind := d.Kind
	*d = MeterSlowWatch{Ratio: d.Ratio, N: d.N}
	return &Verdict{Kind: kind}
}

func (d *MeterSlowWatch) raise(v *View, kind detect.Kind, meter detect.Signal, share float64) *Verdict {
	d.Kind, d.Meter, d.Agreed = kind, meter, 0
	e := detect.Evidence{
		"meter": pointName(meter), "share_seen": round(share, 3), "compared_l": round(math.Max(d.SinceIn, d.SinceSoft), 0),
		"told_apart": d.Apart, "drain_l": round(d.Bypass.Drain, 0), "smallest_visible_share": slowLeast,
	}
	if d.Bypass.Drain > 0 {
		e["drain_share_seen"] = round(d.Bypass.Passed/d.Bypass.Drain, 2)
	}
	if d.Bypass.Tests > 0 {
		cold := d.Bypass.Hardness / float64(d.Bypass.Tests)
		e["cold_hardness_mg_per_l"] = round(cold, 0)
		if d.ColdBefore <= softBefore*v.Books.RawHardness() {
			putShare(e, "cold_share", cold/v.Books.RawHardness())
		}
	}
	if patchy, ok := d.Patchy.share(); ok {
		e["patchy_share"] = round(patchy, 2)
	}
	text := d.say(v, share)
	if kind == detect.BypassOpen {
		text = sayBypass(v, 1-share)
	}
	return &Verdict{Kind: kind, Standing: true, Severity: detect.ThisWeek, Onset: d.From, Evidence: e, Summary: text}
}

func (d *MeterSlowWatch) say(v *View, share float64) string {
	if d.Meter == detect.InletFlow {
		return fmt.Sprintf("The house meter shows only %.0f %% of the water that the softener's meter counts. It under-reads.", 100*share)
	}
	text := fmt.Sprintf("The softener's meter shows only %.0f %% of the water that the house meter counts. If it is the meter that the softener counts by, it will regenerate too late.", 100*share)
	if !d.Apart {
		text += " Check too that the bypass is shut all the way."
	}
	return text
}
