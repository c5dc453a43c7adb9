package intake

import (
	"slices"
	"sync"
	"time"
)

// Quarantined is what one topic sent that could not be used, for one reason.
type Quarantined struct {
	Topic       string
	Reason      Reason
	Detail      string // of the newest
	Payload     []byte // the newest, cut
	Count       int    // how many since First
	First, Last time.Time

	told time.Time // when it was logged last
}

// quarantine keeps the newest example per topic and reason, and forgets the one
// that was silent longest when it is full: a noisy sensor cannot push the
// others out.
type quarantine struct {
	size, bytes int

	mu      sync.Mutex
	entries map[quarantineKey]*Quarantined // guarded by mu
}

type quarantineKey struct {
	topic  string
	reason Reason
}

// add keeps an example and returns its entry, of which only told may be changed
// and only by the worker that adds.
func (q *quarantine) add(m *Message, f fault, now time.Time) *Quarantined {
	q.mu.Lock()
	defer q.mu.Unlock()
	topic := m.Topic[:min(len(m.Topic), q.bytes)]
	key := quarantineKey{topic, f.reason}
	e := q.entries[key]
	if e == nil {
		if len(q.entries) >= q.size {
			q.forgetOldest()
		}
		e = &Quarantined{Topic: topic, Reason: f.reason, First: now}
		q.entries[key] = e
	}
	e.Count++
	e.Last = now
	e.Detail = f.detail
	e.Payload = append(e.Payload[:0], m.Payload[:min(len(m.Payload), q.bytes)]...)
	return e
}

func (q *quarantine) forgetOldest() {
	var oldest *Quarantined
	for _, e := range q.entries {
		if oldest == nil || e.Last.Before(oldest.Last) {
			oldest = e
		}
	}
	delete(q.entries, quarantineKey{oldest.Topic, oldest.Reason})
}

// list is a copy, newest first.
func (q *quarantine) list() []Quarantined {
	q.mu.Lock()
	defer q.mu.Unlock()
	var out []Quarantined
	for _, e := range q.entries {
		c := *e
		c.Payload = slices.Clone(e.Payload)
		out = append(out, c)
	}
	slices.SortFunc(out, func(a, b Quarantined) int { return b.Last.Compare(a.Last) })
	return out
}
