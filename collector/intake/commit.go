package intake

import (
	"context"
	"errors"
	"time"

	"brinebell/collector/series"
)

// commit decodes the batch, stores its readings, has them judged and calls
// every message's Done.
func (in *Intake) commit(ctx context.Context) {
	in.committing.Lock()
	defer in.committing.Unlock()
	now := in.opts.Clock()
	err := in.present.check(now)
	if err != nil {
		in.metrics.clock.Inc()
	} else {
		in.decode(now)
		err = in.store(ctx, now)
	}
	if err == nil {
		err = in.judge(ctx)
	}
	for i := range in.batch.messages {
		in.batch.messages[i].Done(err)
		in.batch.messages[i] = Message{}
	}
	if err != nil {
		in.opts.Logger.Error("a batch was not committed; its messages will be sent again", "messages", len(in.batch.messages), "error", err)
		return
	}
	in.metrics.batch.Observe(float64(len(in.batch.messages)))
	in.countMessages()
}

// decode fills the batch's readings and sets faults aside.
func (in *Intake) decode(now time.Time) {
	b := &in.batch
	b.readings, b.owner, b.faulty, b.used = b.readings[:0], b.owner[:0], b.faulty[:0], b.used[:0]
	for i := range b.messages {
		m := &b.messages[i]
		from := len(b.readings)
		b.readings, b.faults = b.decoder.decode(m, now, b.readings, b.faults[:0])
		b.readings = b.readings[:from+in.sift(from, now)]
		for _, f := range b.faults {
			in.setAside(m, f, now)
		}
		b.faulty = append(b.faulty, len(b.faults))
		b.used = append(b.used, len(b.readings)-from)
		for len(b.owner) < len(b.readings) {
			b.owner = append(b.owner, i)
		}
	}
}

// sift keeps, of the readings from an index on, those of a known home and no
// later than tomorrow, cut to the millisecond; it returns how many they are.
func (in *Intake) sift(from int, now time.Time) int {
	b := &in.batch
	kept := b.readings[from:from]
	for _, r := range b.readings[from:] {
		r.Time = r.Time.Truncate(time.Millisecond)
		switch {
		case !in.opts.Known(r.Home):
			b.faults = append(b.faults, fault{UnknownHome, "no home has the id " + r.Home})
		case r.Time.Sub(now) > MaxAhead:
			b.faults = append(b.faults, fault{Future, "measured at " + r.Time.Format(time.RFC3339) + ", when it is " + now.UTC().Format(time.RFC3339)})
		case r.Check() != nil:
			b.faults = append(b.faults, fault{Implausible, r.Check().Error()})
		default:
			kept = append(kept, r)
		}
	}
	return len(kept)
}

// Refused sets aside that a sender was not allowed to publish on a topic, or to
// connect when that is empty.
func (in *Intake) Refused(topic, why string) {
	in.setAside(&Message{Topic: topic}, fault{NotAllowed, why}, in.opts.Clock())
}

func (in *Intake) setAside(m *Message, f fault, now time.Time) {
	in.metrics.readings.WithLabelValues(string(f.reason)).Inc()
	in.complain(in.quarantine.add(m, f, now), now)
}

// store commits the readings, trying again while the store refuses, and takes
// those out that it will never take.
func (in *Intake) store(ctx context.Context, now time.Time) error {
	if len(in.batch.readings) == 0 {
		return nil
	}
	began := time.Now()
	rejected, err := in.appendPatiently(ctx)
	if err != nil {
		return err
	}
	in.metrics.append.Observe(time.Since(began).Seconds())
	in.takeOut(rejected, now)
	in.metrics.readings.WithLabelValues("stored").Add(float64(len(in.batch.readings)))
	now = in.opts.Clock() // after the wait for the store
	in.hearing.note(in.batch.readings, now)
	in.present.note(in.batch.readings)
	for _, r := range in.batch.readings {
		in.metrics.lag.Observe(now.Sub(r.Time).Seconds())
	}
	return nil
}

func (in *Intake) appendPatiently(ctx context.Context) (rejected []series.Rejected, err error) {
	pause := retryFirst
	for attempt := range attempts {
		if attempt > 0 {
			in.metrics.failures.Inc()
			in.opts.Logger.Warn("the series store refuses a batch", "attempt", attempt, "error", err)
			if err := wait(ctx, pause); err != nil {
				return nil, err
			}
			pause = min(2*pause, retryMost)
		}
		if rejected, err = in.append(context.WithoutCancel(ctx)); err == nil {
			return rejected, nil
		}
	}
	return nil, err
}

// append stores the batch's readings if there is room for them.
func (in *Intake) append(ctx context.Context) ([]series.Rejected, error) {
	if in.opts.Room != nil {
		if err := in.opts.Room(); err != nil {
			return nil, err
		}
	}
	return in.opts.Store.Append(ctx, in.batch.readings)
}

func wait(ctx context.Context, d time.Duration) error {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// takeOut removes rejected readings from the batch and sets them aside.
func (in *Intake) takeOut(rejected []series.Rejected, now time.Time) {
	if len(rejected) == 0 {
		return
	}
	b := &in.batch
	kept := b.readings[:0]
	for i, r := range b.readings {
		if len(rejected) == 0 || rejected[0].Index != i {
			kept = append(kept, r)
			continue
		}
		reason := Refused
		switch {
		case errors.Is(rejected[0].Err, series.ErrConflict):
			reason = Conflict
		case errors.Is(rejected[0].Err, series.ErrTooOld):
			reason = TooOld
		}
		owner := b.owner[i]
		b.faulty[owner]++
		b.used[owner]--
		in.setAside(&b.messages[owner], fault{reason, rejected[0].Err.Error()}, now)
		rejected = rejected[1:]
	}
	b.readings = kept
}

func (in *Intake) judge(ctx context.Context) error {
	if len(in.batch.readings) == 0 {
		return nil
	}
	began := time.Now()
	err := in.opts.Judge.Observe(context.WithoutCancel(ctx), in.batch.readings)
	in.metrics.detect.Observe(time.Since(began).Seconds())
	return err
}

func (in *Intake) countMessages() {
	for i := range in.batch.messages {
		outcome := "committed"
		switch {
		case in.batch.used[i] == 0 && in.batch.faulty[i] > 0:
			outcome = "quarantined"
		case in.batch.faulty[i] > 0:
			outcome = "partly"
		}
		in.metrics.messages.WithLabelValues(outcome).Inc()
	}
}
