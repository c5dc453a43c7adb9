package engine

import "time"

// localTime puts instants into a home's zone. Looking up a zone's rule costs
// more than a detector does, so the offset is kept for the hour.
type localTime struct {
	location *time.Location
	hour     int64 // Unix hour that fixed belongs to
	fixed    *time.Location
}

func (l *localTime) at(t time.Time) time.Time {
	// Zones change their offset on whole quarters of an hour; looking anew each
	// quarter is exact.
	if hour := t.Unix() / 900; l.fixed == nil || hour != l.hour {
		name, offset := t.In(l.location).Zone()
		if l.fixed == nil || !sameOffset(l.fixed, t, offset) {
			l.fixed = time.FixedZone(name, offset)
		}
		l.hour = hour
	}
	return t.In(l.fixed)
}

func sameOffset(l *time.Location, t time.Time, offset int) bool {
	_, have := t.In(l).Zone()
	return have == offset
}
