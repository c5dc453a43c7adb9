package judge

import (
	"context"
	"time"

	"brinebell/detect/books"
)

// wakeWait is how long books wait for a home that somebody else is waking.
const wakeWait = 2 * time.Second

// Books are a home's books; ok is false for an unknown home, and until the judge
// is ready; a home that has not caught up does so first. While the home's shard
// is at work they are as last read, if they were: a page need not wait for
// another home's re-run.
func (j *Judge) Books(home string) (b books.Books, ok bool) {
	select {
	case <-j.ready:
	default:
		return b, false
	}
	s := j.shardOf(home)
	if s == nil {
		return b, false
	}
	if !s.mu.TryLock() {
		if b, ok := s.lastRead(home); ok {
			return b, true
		}
		s.mu.Lock()
	}
	d := s.desks[home]
	if d == nil { // removed this moment
		s.mu.Unlock()
		return b, false
	}
	if d.asleep() {
		s.mu.Unlock()
		// It may be waking already. What fails is tried again and logged; see
		// catchUp.
		ctx, cancel := context.WithTimeout(context.Background(), wakeWait)
		defer cancel()
		_ = j.alone(ctx, s, home, func(d *desk) error { return s.wake(context.WithoutCancel(ctx), d) })
		s.mu.Lock()
	}
	defer s.mu.Unlock()
	if d.asleep() || s.desks[home] != d {
		return b, false
	}
	return s.readBooks(home)
}

// readBooks asks the home's engine. Called with mu held.
func (s *shard) readBooks(home string) (b books.Books, ok bool) {
	if b, ok = s.desks[home].engine.Books(home); !ok {
		return b, false
	}
	s.reading.Lock()
	defer s.reading.Unlock()
	s.read[home] = b
	return b, true
}

func (s *shard) lastRead(home string) (b books.Books, ok bool) {
	s.reading.Lock()
	defer s.reading.Unlock()
	b, ok = s.read[home]
	return b, ok
}
