package care

import (
	"slices"
	"strings"
	"time"

	"brinebell/detect"
)

// Explains says whether a finding of the first kind brings one of the second
// about, by itself or by what it brings about.
func Explains(root, effect detect.Kind) bool {
	for _, a := range arrows {
		if a.root == root && (a.effect == effect || Explains(a.effect, effect)) {
			return true
		}
	}
	return false
}

// The times of relation.
const (
	// apart is how long after the one is over the other may begin: books by the
	// week and capacity by the cycle lag that far behind. Common practice, no
	// source.
	apart = 7 * 24 * time.Hour
	// before is how far an effect's onset may lie before its root's: onsets are
	// estimates, and what is said of four weeks' salt dates from their beginning.
	before = 28 * 24 * time.Hour
	// sure is the share from which a first cause ties two alerts together.
	sure = 0.5
)

// together says whether two alerts lie close enough in time to have to do with
// each other.
func together(a, b detect.Alert) bool { return !longAfter(a, b) && !longAfter(b, a) }

// longAfter says whether b begins too long after a is over.
func longAfter(a, b detect.Alert) bool {
	return !a.Open() && b.Onset.After(a.Cleared.Add(apart))
}

// explains says whether root can have brought effect about.
func explains(root, effect detect.Alert) bool {
	return Explains(root.Kind, effect.Kind) && !effect.Onset.Before(root.Onset.Add(-before))
}

// same says whether two alerts are of the same trouble without one explaining
// the other: they are of one kind, one came after the other, or both have the
// same first cause, of which either is sure.
func same(a, b detect.Alert) bool {
	if a.Kind == b.Kind && !isSensor(a.Kind) {
		return true
	}
	if isSensor(a.Kind) && isSensor(b.Kind) {
		return commonSignal(a, b)
	}
	first, ok := firstCause(a)
	second, ok2 := firstCause(b)
	if !ok || !ok2 || first != second {
		return false
	}
	// Two sensors seldom fail together; what both blame is one of them only when
	// a finding about sensors says which.
	return first != detect.SensorFault || isSensor(a.Kind) != isSensor(b.Kind)
}

func firstCause(a detect.Alert) (detect.Cause, bool) {
	c := FirstCause(a)
	return c.Cause, c.Probability >= sure
}

// FirstCause is the likeliest cause of an alert; zero when it names none.
func FirstCause(a detect.Alert) (first detect.CauseShare) {
	for _, c := range a.Causes {
		if c.Probability > first.Probability {
			first = c
		}
	}
	return first
}

func isSensor(k detect.Kind) bool {
	switch k {
	case detect.SensorSilent, detect.SensorStuck, detect.SensorImplausible, detect.SensorClock:
		return true
	}
	return false
}

// commonSignal says whether two findings about sensors name one signal.
func commonSignal(a, b detect.Alert) bool {
	return slices.ContainsFunc(signals(a), func(x string) bool {
		return slices.ContainsFunc(signals(b), func(y string) bool { return strings.Contains(x, y) || strings.Contains(y, x) })
	})
}

// signals are those that a finding about sensors names in its evidence. Some
// findings name only the pipe that a signal is measured at.
func signals(a detect.Alert) (out []string) {
	for _, key := range []string{"signals", "between"} {
		text, _ := a.Evidence[key].(string)
		for _, s := range strings.Split(text, ",") {
			if s = strings.ReplaceAll(strings.TrimSpace(s), " ", "_"); s != "" {
				out = append(out, s)
			}
		}
	}
	return out
}
