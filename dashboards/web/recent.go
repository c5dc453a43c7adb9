package web

import (
	"context"
	"sync"
	"time"

	"brinebell/dashboards/web/chart"
	"brinebell/detect"
)

// recentPace is the spans in which the last days are read and drawn.
const recentPace = 30 * time.Minute

// The full days before today are kept for a while once they were read: many
// readings make few points, and most pages ask for the same. What a sensor
// uploads late shows when they are read again.
const (
	recentFresh = 10 * time.Minute
	// recentKept is how many signals' days are kept, some 13 KB each, before the
	// cache begins afresh.
	recentKept = 1500
)

// recentCache keeps the last days of the signals that were looked at.
type recentCache struct {
	mu   sync.Mutex // guards days
	days map[recentKey]recentDays
}

type recentKey struct {
	home   string
	signal detect.Signal
}

// recentDays are the points of a signal from from until before until.
type recentDays struct {
	from, until, read time.Time
	points            []Point
}

func (c *recentCache) get(key recentKey, from, until, clock time.Time) ([]Point, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	d, ok := c.days[key]
	return d.points, ok && d.from.Equal(from) && d.until.Equal(until) && clock.Sub(d.read) < recentFresh
}

func (c *recentCache) put(key recentKey, d recentDays) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.days == nil || len(c.days) >= recentKept {
		c.days = make(map[recentKey]recentDays)
	}
	c.days[key] = d
}

// recent are the points of a signal in the last days: today's as they are, those
// of the days before perhaps as they were some minutes ago.
func (s *Server) recent(ctx context.Context, home string, signal detect.Signal, e extent, loc *time.Location) ([]Point, error) {
	midnight, key, clock := chart.Midnight(e.to, loc), recentKey{home, signal}, time.Now()
	past, kept := s.recently.get(key, e.from, midnight, clock)
	if !kept {
		// One span more, as what passed within a total's last span shows in the next.
		found, err := s.points(ctx, home, signal, paced(e.from, midnight.Add(recentPace)))
		if err != nil {
			return nil, err
		}
		for len(found) > 0 && !found[len(found)-1].Time.Before(midnight) {
			found = found[:len(found)-1]
		}
		past = found
		s.recently.put(key, recentDays{e.from, midnight, clock, past})
	}
	today, err := s.points(ctx, home, signal, paced(midnight, e.to))
	if err != nil {
		return nil, err
	}
	return append(past[:len(past):len(past)], today...), nil
}

// paced is the least whole number of spans of recentPace from from on that
// reaches to.
func paced(from, to time.Time) extent {
	spans := max(1, int((to.Sub(from)+recentPace-1)/recentPace))
	return extent{from: from, to: from.Add(time.Duration(spans) * recentPace), parts: spans}
}

// recentWater is water of the last days.
func (s *Server) recentWater(ctx context.Context, home string, e extent, loc *time.Location) (detect.Signal, []Point, error) {
	points, err := s.recent(ctx, home, detect.InletFlow, e, loc)
	if err != nil || len(points) > 0 {
		return detect.InletFlow, points, err
	}
	points, err = s.recent(ctx, home, detect.ServiceFlow, e, loc)
	return detect.ServiceFlow, points, err
}
