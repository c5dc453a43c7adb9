package intake

import (
	"sync"
	"time"

	"brinebell/detect"
)

// hearing knows when each home was last heard.
type hearing struct {
	mu   sync.Mutex
	last map[string]time.Time // by home; guarded by mu
}

// note notes who a batch is of.
func (h *hearing) note(readings []detect.Reading, now time.Time) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.last == nil {
		h.last = map[string]time.Time{}
	}
	previous := ""
	for _, r := range readings {
		if r.Home != previous {
			h.last[r.Home], previous = now, r.Home
		}
	}
}

// Heard is when readings of a home were last stored, by the clock; ok is false
// when none was since the intake was made.
func (in *Intake) Heard(home string) (t time.Time, ok bool) {
	in.hearing.mu.Lock()
	defer in.hearing.mu.Unlock()
	t, ok = in.hearing.last[home]
	return t, ok
}
