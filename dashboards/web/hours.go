package web

import (
	"context"
	"html/template"
	"math"
	"slices"
	"sync"
	"time"

	"brinebell/dashboards/web/chart"
	"brinebell/detect"
)

// dayHours is the litres of each local hour of a day; NaN where nobody measured.
type dayHours [24]float64

// The days that make what is usual in an hour, and the nights that are shown.
const (
	hourDays    = 28
	nightsShown = 14
	// nightEnds is the hour by which a night is over: the hours before are those
	// in which a household usually sleeps.
	nightEnds = 6
	// silentHour is how many litres an hour may hold and still count as at rest:
	// a coarse meter says a litre at once that ran long before.
	silentHour = 1.0
)

// hourCache keeps the hours of past days, which change no more, for the homes
// that were looked at.
type hourCache struct {
	mu    sync.Mutex // guards homes
	homes map[string]pastHours
}

// pastHours are a home's full days before the day until, the oldest first.
type pastHours struct {
	until time.Time
	days  []dayHours
}

// hourHomes is how many homes the cache holds, some 6 KB each, before it begins
// afresh.
const hourHomes = 1000

func (c *hourCache) get(home string, until time.Time) ([]dayHours, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	kept, ok := c.homes[home]
	return kept.days, ok && kept.until.Equal(until)
}

func (c *hourCache) put(home string, until time.Time, days []dayHours) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.homes == nil || len(c.homes) >= hourHomes {
		c.homes = make(map[string]pastHours)
	}
	c.homes[home] = pastHours{until, days}
}

// hoursOf are the hours of the full days before today and of today.
func (s *Server) hoursOf(ctx context.Context, h detect.Home, read reader, now time.Time) (past []dayHours, today dayHours, err error) {
	midnight := chart.Midnight(now, read.loc)
	past, ok := s.hours.get(h.ID, midnight)
	if !ok {
		if past, err = s.readHours(ctx, h, read, midnight.AddDate(0, 0, -hourDays), midnight); err != nil {
			return nil, today, err
		}
		s.hours.put(h.ID, midnight, past)
	}
	last, err := s.readHours(ctx, h, read, midnight, now.Add(time.Second))
	if len(last) > 0 {
		today = last[len(last)-1]
	}
	return past, today, err
}

// readHours adds up the water of whole hours, day by day.
func (s *Server) readHours(ctx context.Context, h detect.Home, read reader, from, to time.Time) ([]dayHours, error) {
	hours := int(math.Ceil(to.Sub(from).Hours()))
	e := extent{from, from.Add(time.Duration(hours) * time.Hour), hours, 0}
	_, points, err := s.water(ctx, h.ID, e)
	if err != nil {
		return nil, err
	}
	var days []dayHours
	for day := from; day.Before(to); day = chart.Midnight(day.Add(36*time.Hour), read.loc) {
		d := dayHours{}
		for i := range d {
			d[i] = math.NaN()
		}
		next := chart.Midnight(day.Add(36*time.Hour), read.loc)
		for _, p := range points {
			if !p.Time.Before(day) && p.Time.Before(next) {
				hour := p.Time.In(read.loc).Hour()
				d[hour] = nought(d[hour]) + p.Mean*60
			}
		}
		days = append(days, d)
	}
	return days, nil
}

func nought(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return v
}

// hourBars are the pictures of today's hours and of the last nights.
func (s *Server) hourBars(ctx context.Context, read reader, h detect.Home, now time.Time) ([]barsView, error) {
	past, today, err := s.hoursOf(ctx, h, read, now)
	if err != nil {
		return nil, err
	}
	var out []barsView
	if v, ok := read.hoursPicture(past, today, now); ok {
		out = append(out, v)
	}
	if v, ok := read.nightsPicture(past, now); ok {
		out = append(out, v)
	}
	return out, nil
}

// usualHour is the median of an hour over the days; NaN with too few.
func usualHour(days []dayHours, hour int) float64 {
	var known []float64
	for _, d := range days {
		if !math.IsNaN(d[hour]) {
			known = append(known, d[hour])
		}
	}
	if len(known) < 5 {
		return math.NaN()
	}
	slices.Sort(known)
	return known[len(known)/2]
}

func (r reader) hoursPicture(past []dayHours, today dayHours, now time.Time) (barsView, bool) {
	v := barsView{ID: "hours", Title: r.Say("hours.title", "day", r.day(now)), Unit: r.unit(detect.Volume), Note: r.Say("hours.note"), Usual: true,
		Table: table{Head: r.List("hours.table")}}
	p := chart.BarPicture{ID: "picture-hours", Title: v.Title, Every: 4, Least: r.in(20, detect.Volume), Number: r.Tick}
	var sum, usual float64
	for hour, litres := range today {
		name, often := r.hourName(hour), usualHour(past, hour)
		bar := chart.Bar{Label: name, Value: r.in(litres, detect.Volume), Usual: r.in(often, detect.Volume)}
		if hour > now.In(r.loc).Hour() {
			bar.Value = 0
		} else {
			sum, usual = sum+nought(litres), usual+nought(often)
			v.Table.Rows = append(v.Table.Rows, []string{name, r.amount(litres, detect.Volume), r.amount(often, detect.Volume)})
		}
		if hour == now.In(r.loc).Hour() {
			bar.Class = "now"
		}
		p.Bars = append(p.Bars, bar)
	}
	v.Sentence = r.Say("hours.sum", "sum", r.about(sum, detect.Volume))
	if usual > 0 {
		v.Sentence = r.Say("hours.beside", "sum", r.about(sum, detect.Volume), "usual", r.about(usual, detect.Volume))
	}
	p.Desc = v.Sentence + " " + r.Say("picture.desc.table")
	v.SVG = template.HTML(p.SVG()) // #nosec G203 -- chart escapes every text
	return v, slices.ContainsFunc(today[:], func(l float64) bool { return !math.IsNaN(l) })
}

func (r reader) hourName(hour int) string {
	at := time.Date(2000, 1, 1, hour, 0, 0, 0, time.UTC)
	if r.twelve() {
		return at.Format("3\u00a0pm")
	}
	return at.Format("15:04")
}

// night is the water of a night's hours: all of it, and of the quietest one.
func (d dayHours) night() (sum, least float64) {
	least = math.NaN()
	for _, l := range d[:nightEnds] {
		if !math.IsNaN(l) {
			sum += l
			if math.IsNaN(least) || l < least {
				least = l
			}
		}
	}
	return sum, least
}

func (r reader) nightsPicture(past []dayHours, now time.Time) (barsView, bool) {
	nights := past[max(0, len(past)-nightsShown):]
	v := barsView{ID: "nights", Title: r.Say("nights.title"), Unit: r.unit(detect.Volume), Note: r.Say("nights.note", "hour", r.hourName(nightEnds)), Table: table{Head: r.List("nights.table")}}
	p := chart.BarPicture{ID: "picture-nights", Title: v.Title, Every: 4, Height: 80, Least: r.in(10, detect.Volume), Number: r.Tick}
	known, restless := 0, 0
	for i, d := range nights {
		at := chart.Midnight(now, r.loc).AddDate(0, 0, i-len(nights))
		sum, least := d.night()
		bar := chart.Bar{Label: r.barDay(at), Value: r.in(least, detect.Volume), Usual: math.NaN()}
		if !math.IsNaN(least) {
			known++
			if least >= silentHour {
				restless++
				bar.Class = "restless"
			}
		}
		p.Bars = append(p.Bars, bar)
		v.Table.Rows = append([][]string{{r.day(at), r.amount(least, detect.Volume), r.amount(sum, detect.Volume)}}, v.Table.Rows...)
	}
	switch restless {
	case 0:
		v.Sentence = r.Say("nights.rest", "n", known)
	default:
		v.Sentence = r.Say("nights.restless", "n", restless, "all", known)
	}
	p.Desc = v.Sentence + " " + r.Say("picture.desc.table")
	v.SVG = template.HTML(p.SVG()) // #nosec G203 -- chart escapes every text
	return v, known > 0
}
