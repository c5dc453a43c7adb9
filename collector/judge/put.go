package judge

import (
	"context"
	"time"

	"brinebell/detect"
)

// busyPause is how long to wait for a home that is being judged again.
const busyPause = 10 * time.Millisecond

// Put takes in a home that is not known, or another profile of one that is. What
// has been judged stays as it is when it holds under the new profile, and is
// judged again when it does not: see detect.JudgeAgain. After an error the old
// profile stays.
func (j *Judge) Put(ctx context.Context, h detect.Home) error {
	s := j.shardOf(h.ID)
	if s == nil {
		return j.admit(ctx, h)
	}
	return j.alone(ctx, s, h.ID, func(d *desk) error { return s.change(ctx, d, h) })
}

// Remove forgets a home. Its readings are passed over from then on.
func (j *Judge) Remove(ctx context.Context, home string) error {
	s := j.shardOf(home)
	if s == nil {
		return nil
	}
	return j.alone(ctx, s, home, func(d *desk) error {
		j.knowing.Lock()
		delete(j.of, home)
		j.knowing.Unlock()
		s.mu.Lock()
		delete(s.desks, home)
		asleep := d.asleep()
		s.mu.Unlock()
		s.reading.Lock()
		delete(s.read, home)
		s.reading.Unlock()
		if asleep {
			j.caughtUp(1)
		}
		return nil
	})
}

// shardOf is the shard that a home is in, or nil.
func (j *Judge) shardOf(home string) *shard {
	j.knowing.RLock()
	defer j.knowing.RUnlock()
	return j.of[home]
}

// alone does something to a home's desk when nothing else is being done to it. A
// desk that is gone by then is left alone.
func (j *Judge) alone(ctx context.Context, s *shard, home string, do func(*desk) error) error {
	for {
		s.mu.Lock()
		d := s.desks[home]
		s.mu.Unlock()
		if d == nil {
			return nil
		}
		done, err := s.exclusively(d, func() error { return do(d) })
		if done {
			return err
		}
		select {
		case <-time.After(busyPause):
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// admit gives a home a desk in the shard that has the fewest, and brings it up
// to what the store has of it, if anything.
func (j *Judge) admit(ctx context.Context, h detect.Home) error {
	resume, _, err := j.opts.State.SnapshotBefore(ctx, h.ID, farFuture)
	if err != nil {
		return err
	}
	j.knowing.Lock()
	if j.of[h.ID] != nil { // somebody else was quicker
		j.knowing.Unlock()
		return j.Put(ctx, h)
	}
	least := j.shards[0]
	count := map[*shard]int{}
	for _, s := range j.of {
		count[s]++
	}
	for _, s := range j.shards {
		if count[s] < count[least] {
			least = s
		}
	}
	j.of[h.ID] = least
	j.behind.Add(1)
	j.knowing.Unlock()
	least.mu.Lock()
	d := &desk{judge: j, home: h, resume: resume.Watermark}
	least.desks[h.ID] = d
	least.mu.Unlock()
	select {
	case <-j.ready:
	default:
		return nil // it is woken with all others
	}
	_, err = least.exclusively(d, func() error { return least.wake(ctx, d) })
	return err
}

// change gives a desk another profile. Called exclusively.
func (s *shard) change(ctx context.Context, d *desk, h detect.Home) error {
	s.mu.Lock()
	old := d.home
	d.home = h
	from, again := detect.JudgeAgain(old, h)
	if d.asleep() { // it begins with the new profile
		s.mu.Unlock()
		if !again {
			return nil
		}
		return d.judge.opts.State.WantRerun(ctx, h.ID, from)
	}
	if !again {
		again = !d.carryOn()
		from = farFuture
	}
	s.mu.Unlock()
	if !again {
		return nil
	}
	err := s.judgeAgain(ctx, d, from)
	if err != nil {
		s.mu.Lock()
		d.home = old
		s.mu.Unlock()
	}
	return err
}

// carryOn puts an engine with the desk's new profile in the place of the old
// one, in its state. It says no if that cannot be had. Called with mu held.
func (d *desk) carryOn() bool {
	d.collect(&d.unsaved, false)
	data, err := d.engine.Snapshot(d.home.ID)
	if err != nil {
		return false
	}
	fresh := d.judge.opts.NewEngine(d.home)
	if d.engine.Watermark(d.home.ID).IsZero() { // nothing has been judged
		return false
	}
	if err := fresh.Restore(d.home.ID, data); err != nil {
		return false
	}
	d.engine = fresh
	return true
}
