package books

import (
	"math"

	"brinebell/detect"
	"brinebell/detect/series"
)

const (
	// daysKept is eight weeks: the home's normal, holidays diluted.
	daysKept = 56
	// minutesKept is how long ago a regeneration's start may lie when it is
	// reported: eight hours, two of the longest cycles.
	minutesKept = 480
	// fullDay is the share of a day's minutes that make its sums worth comparing.
	fullDay = 0.9
)

// Day is one local day's sums.
type Day struct {
	Date          int32   // days since 1970-01-01
	Minutes       int32   // with known water through the softener
	PastMinutes   int32   // with known water past it
	Through, Past float64 // L used through the softener, and past it
	Rinse         float64 // L of regeneration water
	Salt          float64 // kg taken by regenerations that began on this day
	Regenerations int32
	Assumed       int32 // of them with a salt use nobody measured
}

// full says whether enough of the day was seen to compare it.
func (d *Day) full() bool { return float64(d.Minutes) >= fullDay*1440 }

// WaterBook is the water of the last weeks by day and of the last hours by the
// minute.
type WaterBook struct {
	Days       [daysKept]Day        // at Date modulo its length
	Recent     [minutesKept]float32 // L through the softener, rinse included, at minute modulo its length; NaN not known
	HasService bool                 // a service meter has been heard
	HasInlet   bool
}

// forget marks every recent minute as not known.
func (w *WaterBook) forget() {
	for i := range w.Recent {
		w.Recent[i] = float32(math.NaN())
	}
}

// read takes the minute's litres through the softener and past it. A home with a
// service meter is read there; one with an inlet meter alone is taken to soften
// all its water, and what goes past is then not known.
func (w *WaterBook) read(m *series.Minute) (through, past float64) {
	service, inlet := m.Values[detect.ServiceFlow], m.Values[detect.InletFlow]
	w.HasService = w.HasService || service == service
	w.HasInlet = w.HasInlet || inlet == inlet
	if w.HasService {
		return service, inlet - service // NaN when either is
	}
	return inlet, math.NaN()
}

// pass keeps the minute for the regeneration that may turn out to have run in
// it, and marks minutes between last and at as not known.
func (w *WaterBook) pass(last, at int64, through float64) {
	to := at / 60
	from := max(last/60+1, to-minutesKept+1)
	for i := from; i < to; i++ {
		w.Recent[i%minutesKept] = float32(math.NaN())
	}
	w.Recent[to%minutesKept] = float32(through)
}

// open makes room for a new day; days that nobody saw stay out.
func (w *WaterBook) open(date int32) {
	if d := &w.Days[date%daysKept]; d.Date != date {
		*d = Day{Date: date}
	}
}

// day is the book of a date, nil when it is not kept.
func (w *WaterBook) day(date int32) *Day {
	if date < 0 {
		return nil
	}
	if d := &w.Days[date%daysKept]; d.Date == date {
		return d
	}
	return nil
}

// book adds one minute's litres to its day.
func (w *WaterBook) book(date int32, through, past float64) {
	d := &w.Days[date%daysKept]
	if through == through {
		d.Through += through
		d.Minutes++
	}
	if past == past {
		d.Past += past
		d.PastMinutes++
	}
}

// between sums what is known of the litres through the softener from one Unix
// second to another, as far back as is kept; now is the last minute's.
func (w *WaterBook) between(from, to, now int64) (litres float64, minutes int) {
	last := min((to+59)/60-1, now/60)
	for i := max(from/60, now/60-minutesKept+1); i <= last; i++ {
		if v := float64(w.Recent[i%minutesKept]); v == v {
			litres += v
			minutes++
		}
	}
	return litres, minutes
}
