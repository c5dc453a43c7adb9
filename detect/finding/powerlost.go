package finding

import (
	"fmt"
	"time"

	"brinebell/detect"
)

const (
	// noPower is below what any control valve draws to keep its clock, W, and
	// above what a plug's zero wanders.
	noPower = 0.3
	// powerGone is how long there must be none where the valve was seen to draw
	// some, powerNever where it never was; minutes.
	powerGone, powerNever = 30, 48 * 60
	// powerBack is how long power must be back, minutes: over a day, so that a
	// socket that is switched off every night is one finding.
	powerBack = 26 * 60
)

// PowerLostWatch finds a control valve without power.
//
// Needs: valve_power.
// Statistic: minutes in a row below noPower, powerGone of them where the valve
// has been seen to draw power, two days where never: some plugs show a few
// watts as nothing, so there it is a question.
// False alarms: unplugging for less than half an hour does not count; a cut of
// the whole street silences the plug too.
// Smallest fault visible: half an hour without power.
// Closes after powerBack minutes with power.
// Source: common practice, no source.
type PowerLostWatch struct {
	Seen     int       // minutes with power, up to powerGone
	Zero     int       // minutes in a row without
	From     time.Time // start of these
	Back     int       // minutes with power since a finding stands
	Standing bool
	Never    bool // no power was ever seen before it
}

// Step looks at the valve's power.
func (d *PowerLostWatch) Step(v *View) *Verdict {
	w, ok := v.Minute.Get(detect.ValvePower)
	if !ok {
		return nil
	}
	if w >= noPower {
		d.Seen, d.Zero = min(d.Seen+1, powerGone), 0
		if d.Back++; d.Standing && (d.Back >= powerBack || d.Never) {
			d.Standing = false
			return &Verdict{Kind: detect.PowerLost}
		}
		return nil
	}
	if d.Zero++; d.Zero == 1 {
		d.From = v.Minute.Start
	}
	d.Back = 0
	known := d.Seen >= powerGone
	if d.Standing || known && d.Zero < powerGone || !known && d.Zero < powerNever || w < -1 {
		return nil
	}
	d.Standing, d.Never = true, !known
	return d.verdict(v, w)
}

func (d *PowerLostWatch) verdict(v *View, watts float64) *Verdict {
	text := fmt.Sprintf("The softener's valve has drawn no power since %s. It does not regenerate and its clock stands still: look at plug, socket and fuse, with dry hands.",
		d.From.In(v.Home.Location).Format("2 January 15:04"))
	severity := detect.ThisWeek
	if d.Never {
		severity = detect.Plan
		text = "The softener's socket has shown no power at all so far. Is the valve plugged in there, and does it show the right time?"
	}
	e := detect.Evidence{"power_w": round(watts, 2), "without_min": d.Zero, "seen_before": !d.Never}
	return &Verdict{Kind: detect.PowerLost, Standing: true, Severity: severity, Onset: d.From, Summary: text, Evidence: e}
}
