package regeneration

import (
	"math"
	"time"

	"brinebell/detect"
	"brinebell/detect/brine"
	"brinebell/detect/series"
)

// Recogniser finds the regenerations of one home in its minutes. Its exported
// fields are its state, for a snapshot: after restoring one, Attach the home.
// It is not safe for concurrent use.
type Recogniser struct {
	Past    Window
	Habit   Habit
	Watch   Watch
	Episode Episode
	Last    int64   // minute at which the last recorded regeneration ended
	Hold    int64   // no level opens an episode before this minute
	SaltTop float64 // last known top of the salt, mm; 0 when never known

	home *detect.Home
	tank brine.Tank
}

// New is a recogniser that has seen nothing of the home yet. The home is read,
// never changed.
func New(home *detect.Home) *Recogniser {
	r := &Recogniser{}
	r.Watch.init()
	r.Attach(home)
	return r
}

// Attach gives a restored recogniser its home back, or a changed profile.
func (r *Recogniser) Attach(home *detect.Home) {
	r.home, r.tank = home, brine.NewTank(home.BrineTank)
}

// longestSilence is how many missing minutes end an episode: what comes after
// them is told apart from it.
const longestSilence = 180

// Step takes the next minute, in order; minutes that are missing altogether
// may be left out. It returns a regeneration that has just become final, or
// nil; the record is the caller's to keep.
func (r *Recogniser) Step(m *series.Minute) *Record {
	now := floorMinute(m.Start)
	if now < r.Past.Next {
		return nil // not in order: the series package lets none through
	}
	var done *Record
	if r.Episode.Open && now-r.Past.Next > longestSilence {
		done = r.finish(false)
	}
	r.Past.skipTo(now)
	r.Past.push(r.take(m))
	if v, ok := m.Get(detect.SaltLevel); ok {
		r.SaltTop = v
	}
	r.Watch.see(&r.Past, r.pulse(), r.Episode.Open)
	if !r.Episode.Open {
		r.begin()
		return done
	}
	if rec := r.follow(); rec != nil {
		return rec
	}
	return done
}

// Flush ends the input and returns a regeneration still under way, or nil.
func (r *Recogniser) Flush() *Record {
	if !r.Episode.Open {
		return nil
	}
	return r.finish(true)
}

// take picks the four channels out of a minute.
func (r *Recogniser) take(m *series.Minute) (drain, level, power, up float64) {
	return m.Values[detect.DrainFlow], m.Values[detect.BrineLevel], m.Values[detect.ValvePower], r.upstream(m)
}

// upstream is the flow that holds the regeneration's water: the service
// meter's when it sits before the resin, else what the house main carries
// beyond a service meter behind the resin, else the main's.
func (r *Recogniser) upstream(m *series.Minute) float64 {
	in, service := m.Values[detect.InletFlow], m.Values[detect.ServiceFlow]
	meter := r.home.Meters.Service
	switch {
	case meter != nil && !meter.Downstream && service == service:
		return service
	case meter != nil && meter.Downstream && service == service:
		return max(in-service, 0) // NaN without an inlet meter
	case in == in:
		return in
	case meter == nil:
		return service
	}
	return math.NaN()
}

func (r *Recogniser) pulse() float64 {
	if d := r.home.Meters.Drain; d != nil {
		return d.Pulse
	}
	return 0
}

func floorMinute(t time.Time) int64 {
	s := t.Unix()
	return (s - ((s%60)+60)%60) / 60
}

// when is the time of a minute and a fraction, in the home's own zone.
func (r *Recogniser) when(minute float64) time.Time {
	whole := math.Floor(minute)
	t := time.Unix(int64(whole)*60, int64(math.Round((minute-whole)*60))*int64(time.Second))
	if r.home.Location != nil {
		return t.In(r.home.Location)
	}
	return t.UTC()
}

// minuteOfDay is the home's local time of a minute, in minutes after midnight.
func (r *Recogniser) minuteOfDay(minute float64) float64 {
	t := r.when(minute)
	return float64(t.Hour()*60+t.Minute()) + float64(t.Second())/60
}
