package collector

import (
	"context"
	"time"

	"brinebell/collector/series"
	"brinebell/detect"
)

// Recorded are all readings of a home's signal in from <= time < to, in order of
// time, as they are stored. Who wants many days asks day by day.
func (c *Collector) Recorded(ctx context.Context, home string, signal detect.Signal, from, to time.Time) ([]series.Point, error) {
	if !c.homes.has(home) {
		return nil, ErrNoHome(home)
	}
	return c.store.Read(ctx, home, signal, from, to)
}
