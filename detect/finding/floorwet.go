package finding

import (
	"time"

	"brinebell/detect"
)

const (
	// wetFor is how long the pad must have been wet: a splash while mopping or
	// one bad reading is over sooner.
	wetFor = 3 * time.Minute
	// dryFor is how long it must be dry again: a puddle that dries between two
	// drips is one finding.
	dryFor = 6 * time.Hour
)

// FloorWetWatch finds water on the floor.
//
// Needs: floor_wet.
// Statistic: the pad says wet, and says nothing else for three minutes; it may
// speak only when it changes. Values other than 0 and 1 say nothing.
// Smallest fault visible: what reaches the pad.
// Closes when the pad has been dry for six hours.
// Source: common practice, no source.
type FloorWetWatch struct {
	Wet, Dry time.Time // since when; zero when not
	Standing bool
}

// Step looks at the pad.
func (d *FloorWetWatch) Step(v *View) *Verdict {
	if wet, ok := v.Minute.Get(detect.FloorWet); ok && wet >= 0 && wet <= 1 {
		d.hear(v.Minute.Start, wet >= 0.5)
	}
	switch {
	case !d.Standing && !d.Wet.IsZero() && v.Minute.Start.Sub(d.Wet) >= wetFor:
		d.Standing = true
		e := detect.Evidence{"wet_min": int(v.Minute.Start.Sub(d.Wet).Minutes())}
		return &Verdict{Kind: detect.FloorWetKind, Standing: true, Severity: detect.ActNow, Onset: d.Wet, Evidence: e,
			Summary: "There is water on the floor beside the softener. Keep away from plugs and cables that stand in it, close the bypass or the main, and look where it comes from."}
	case d.Standing && !d.Dry.IsZero() && v.Minute.Start.Sub(d.Dry) >= dryFor:
		d.Standing = false
		return &Verdict{Kind: detect.FloorWetKind}
	}
	return nil
}

func (d *FloorWetWatch) hear(at time.Time, wet bool) {
	switch {
	case wet && d.Wet.IsZero():
		d.Wet, d.Dry = at, time.Time{}
	case !wet && d.Dry.IsZero():
		d.Wet, d.Dry = time.Time{}, at
	}
}
