package finding

import (
	"fmt"
	"strings"
	"time"

	"brinebell/detect"
)

const (
	// silentFor is how long a signal must have been missed, minutes: a radio link
	// that is down for hours is common and mends itself.
	silentFor = 36 * 60
	// silentTimes is how many times the longest silence known it must exceed.
	silentTimes = 3
	// silentKnown is how many minutes a signal must have spoken in to be known.
	silentKnown = 100
	// heardAgain is in how many minutes a signal must speak for it to be back.
	heardAgain = 3
)

// voice is how one signal speaks.
type voice struct {
	Last    int32 // minute since 1970 in which it last spoke
	Alone   int32 // minutes since then in which others spoke
	Longest int32 // longest such silence that ended by itself, minutes
	Heard   int16 // minutes in which it spoke, up to silentKnown
	Silent  bool
}

// SensorSilentWatch finds a signal that used to report and stopped while others
// go on.
//
// Needs: two signals at least; a home that falls silent as a whole cannot be
// judged by its own readings.
// Statistic: minutes in which another signal spoke and this one did not, against
// 36 hours and three times the longest silence it ever ended by itself. A
// signal that speaks in few minutes (a strip read by hand, a battery once a day) is
// known after a hundred reports.
// False alarms: an outage longer than 36 hours of one device alone.
// Smallest fault visible: 36 hours.
// Closes when all silent signals have spoken in three minutes again.
// Source: common practice, no source.
type SensorSilentWatch struct {
	Voices   [detect.NumSignals]voice
	Standing bool
	Back     int8
}

// Step listens to every signal.
func (d *SensorSilentWatch) Step(v *View) *Verdict {
	now := int32(v.Minute.Start.Unix() / 60)
	spoke, missing := false, false
	for s := range d.Voices {
		x := v.Minute.Values[s]
		if o := &d.Voices[s]; x == x {
			spoke = true
			if o.Alone > 1 || o.Silent || o.Heard < silentKnown {
				o.hear()
			}
			o.Last, o.Alone = now, 0
		} else if o.Heard >= silentKnown {
			o.Alone++
			missing = missing || o.Alone > silentFor
		}
	}
	if !spoke { // nobody's silence counts
		for s := range d.Voices {
			if d.Voices[s].Heard >= silentKnown {
				d.Voices[s].Alone--
			}
		}
		return nil
	}
	if !missing && !d.Standing {
		return nil
	}
	return d.judge(v)
}

// hear ends a silence.
func (o *voice) hear() {
	o.Heard = min(o.Heard+1, silentKnown)
	if !o.Silent {
		o.Longest = max(o.Longest, o.Alone)
		return
	}
	if o.Heard >= silentKnown {
		o.Heard = silentKnown - heardAgain
	}
	if o.Heard == silentKnown-1 {
		o.Silent = false
	}
}

func (d *SensorSilentWatch) judge(v *View) *Verdict {
	grew, any := false, false
	for s := range d.Voices {
		o := &d.Voices[s]
		if !o.Silent && o.Alone > silentFor && o.Alone > silentTimes*o.Longest {
			o.Silent, grew = true, true
		}
		any = any || o.Silent
	}
	switch {
	case grew:
		d.Standing = true
		return d.verdict(v)
	case d.Standing && !any:
		d.Standing = false
		return &Verdict{Kind: detect.SensorSilent}
	}
	return nil
}

func (d *SensorSilentWatch) verdict(v *View) *Verdict {
	var names []string
	onset := int32(1<<31 - 1)
	for s, o := range d.Voices {
		if o.Silent {
			names = append(names, detect.Signal(s).String())
			onset = min(onset, o.Last+1)
		}
	}
	from := time.Unix(int64(onset)*60, 0).UTC()
	e := detect.Evidence{"signals": strings.Join(names, ","), "silent_h": round(v.Minute.Start.Sub(from).Hours(), 1)}
	return &Verdict{Kind: detect.SensorSilent, Standing: true, Severity: detect.ThisWeek, Onset: from, Evidence: e,
		Summary: fmt.Sprintf("A sensor has sent nothing since %s (%s), while others do. What it watched is not watched now: look at its battery, cable and radio.",
			from.In(v.Home.Location).Format("2 January 15:04"), sensorNames(names))}
}

// sensorNames says signals as words.
func sensorNames(names []string) string {
	return strings.ReplaceAll(strings.Join(names, ", "), "_", " ")
}
