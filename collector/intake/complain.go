package intake

import "time"

const (
	// complainEvery is how often one topic's same mistake is logged again while
	// it goes on.
	complainEvery = time.Hour
	// mostComplaints a minute are logged, so that a flood of topics does not
	// flood the log; the quarantine and the counters still have them.
	mostComplaints = 20
)

// complaints logs what was set aside: the first of each topic and reason, and
// again now and then while it goes on. It belongs to the worker.
type complaints struct {
	minute time.Time
	said   int // in that minute
}

// complain logs an entry of the quarantine when it is time to.
func (in *Intake) complain(e *Quarantined, now time.Time) {
	in.quarantine.mu.Lock() // guards complaints too: the link reports refusals beside the worker
	defer in.quarantine.mu.Unlock()
	if !e.told.IsZero() && now.Sub(e.told) < complainEvery {
		return
	}
	c := &in.complaints
	if minute := now.Truncate(time.Minute); !minute.Equal(c.minute) {
		c.minute, c.said = minute, 0
	}
	if c.said++; c.said > mostComplaints {
		if c.said == mostComplaints+1 {
			in.opts.Logger.Warn("more was set aside than is logged one by one; brinebell_readings_total counts it by reason")
		}
		return
	}
	e.told = now
	in.opts.Logger.Warn("set aside, not stored", "topic", e.Topic, "reason", string(e.Reason), "why", e.Detail, "payload", string(e.Payload), "times", e.Count)
}
