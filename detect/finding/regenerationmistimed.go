package finding

import (
	"fmt"
	"math"
	"time"

	"brinebell/detect"
)

const (
	// mistimedAfter is how many minutes off the set hour a regeneration is at the
	// wrong hour; clocks in service stand within some minutes, summer time shifts
	// by sixty.
	mistimedAfter = 45.0
	// mistimedAlike is how well two in a row must agree to be a clock's shift and
	// not two starts by hand, minutes; mistimedRow how many in a row convict a
	// clock that goes on drifting, as after repeated outages.
	mistimedAlike, mistimedRow = 30.0, 3
	// mistimedBack is how near the hour ends it.
	mistimedBack = 30.0
	// mistimedDrawn is the share of a dose that must have been drawn for the phases of a
	// cycle with its brine made ahead to be told apart.
	mistimedDrawn = 0.3
	// mistimedErrors is how many standard deviations of the recognised start must
	// be exceeded too.
	mistimedErrors = 4.0
)

// RegenerationMistimedWatch finds regenerations at the wrong hour.
//
// Needs: a witness of regenerations; a control that waits for its hour.
// Statistic: minutes from the programme's hour to the recognised start. Two in a
// row shifted alike, or three shifted the same way, are a clock's; a single one
// is somebody's doing.
// False alarms: two starts by hand in a row within half an hour of the same time.
// Smallest fault visible: three quarters of an hour, with the drain's meter; four
// standard deviations of the start without it.
// Closes at the first regeneration within half an hour of its time.
// Source: common practice, no source.
type RegenerationMistimedWatch struct {
	Off      float64 // minutes, of the last one
	Row      int     // in a row off the same way
	Standing bool
	Onset    time.Time
}

// Step judges a regeneration when one has finished.
func (d *RegenerationMistimedWatch) Step(v *View) *Verdict {
	if v.judged() == nil || v.Home.Softener.Control == detect.MeteredImmediate {
		return nil
	}
	off, known := d.off(v)
	if !known {
		return nil
	}
	limit := math.Max(mistimedAfter, mistimedErrors*v.Record.StartError.Minutes())
	if math.Abs(off) < limit {
		d.Row = 0
		if d.Standing && math.Abs(off) < math.Max(mistimedBack, limit/2) {
			d.Standing = false
			return &Verdict{Kind: detect.RegenerationMistimed}
		}
		return nil
	}
	alike := d.Row > 0 && math.Abs(off-d.Off) < mistimedAlike
	if d.Row > 0 && (off > 0) != (d.Off > 0) && !alike {
		d.Row = 0
	}
	if d.Row++; d.Row == 1 {
		d.Onset = v.Record.Start
	}
	d.Off = off
	if d.Standing || !alike && d.Row < mistimedRow {
		return nil
	}
	d.Standing = true
	return d.verdict(v)
}

// off is minutes after the hour. Where the brine is made ahead, the hour may be
// that of the refill or of the backwash; the nearer one is taken. Not known while
// only the refill was seen.
func (d *RegenerationMistimedWatch) off(v *View) (minutes float64, known bool) {
	off := hourOff(v.Home, v.Record.Start)
	if !v.Home.Softener.RefillBefore {
		return off, true
	}
	if v.Record.BrineLitres < mistimedDrawn*doseLitres(v.Home) {
		return off, false // nothing parts the refill from the backwash
	}
	for _, p := range v.Record.Phases {
		if p.Name == detect.Refill {
			continue
		}
		if other := hourOff(v.Home, p.Start); math.Abs(other) < math.Abs(off) {
			return other, true
		}
		return off, true
	}
	return off, false
}

func (d *RegenerationMistimedWatch) verdict(v *View) *Verdict {
	at := v.Record.Start.In(v.Home.Location)
	set := v.Home.Softener.RegenerationTime
	e := detect.Evidence{"off_min": round(d.Off, 0), "in_a_row": d.Row, "start_error_min": round(v.Record.StartError.Minutes(), 1)}
	return &Verdict{Kind: detect.RegenerationMistimed, Standing: true, Severity: detect.Plan, Onset: d.Onset, Evidence: e,
		Summary: fmt.Sprintf("The last regenerations began about %s instead of %02d:%02d: the valve's clock may be wrong. Water drawn meanwhile is not softened.",
			at.Format("15:04"), int(set.Hours()), int(set.Minutes())%60)}
}
