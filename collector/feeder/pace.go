package feeder

import (
	"context"
	"time"
)

// Pace lets event time pass at Speed times the pace of the wall clock.
type Pace struct {
	Speed float64 // 0 or less: as fast as it goes
	start time.Time
	event time.Time
}

// slack is how far event time may run ahead before Wait waits: waits shorter
// than that cost more than they even out.
const slack = 20 * time.Millisecond

// Wait returns when event time may have come to t.
func (p *Pace) Wait(ctx context.Context, t time.Time) error {
	if p.Speed <= 0 {
		return ctx.Err()
	}
	if p.start.IsZero() {
		p.start, p.event = time.Now(), t
	}
	ahead := time.Duration(float64(t.Sub(p.event))/p.Speed) - time.Since(p.start)
	if ahead < slack {
		return nil
	}
	timer := time.NewTimer(ahead)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
