package collector

import (
	"context"
	"errors"
	"fmt"

	"brinebell/collector/series"
)

// part is a long-lived part of the collector that runs until it is stopped.
type part struct {
	name  string
	stop  context.CancelFunc
	ended chan struct{}
	err   error // valid after ended
}

// begin runs a part. failed is called if it ends by itself.
func begin(name string, failed func(), run func(context.Context) error) *part {
	ctx, stop := context.WithCancel(context.Background())
	p := &part{name: name, stop: stop, ended: make(chan struct{})}
	go func() {
		defer close(p.ended)
		p.err = run(ctx)
		if ctx.Err() == nil {
			p.err = errors.Join(p.err, errors.New("ended unexpectedly"))
			failed()
		}
	}()
	return p
}

// end stops a part and waits for it.
func (p *part) end() error {
	p.stop()
	<-p.ended
	if p.err != nil {
		return fmt.Errorf("%s: %w", p.name, p.err)
	}
	return nil
}

// Run takes in and judges until ctx ends or a part fails. It stops from the
// front: the intake commits what it has and refuses more, while the link still
// acknowledges; then the link goes, then the judge saves where it is. What was
// not committed was not acknowledged and comes again; what has not become a step
// or was not told by then is on disk and follows at the next start. It can be run
// once.
func (c *Collector) Run(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	storing := begin("series store", cancel, c.runStore)
	judging := begin("judge", cancel, c.judge.Run)
	select {
	case <-c.judge.Ready():
	case <-ctx.Done():
		return errors.Join(judging.end(), storing.end())
	}
	taking := begin("intake", cancel, c.intake.Run)
	linking := begin("broker", cancel, c.broker.Run)
	casing := begin("cases", cancel, c.book.Run)
	telling := begin("telling", cancel, c.teller.Run)
	c.opts.Logger.Info("collecting", "homes", len(c.homes.all()), "broker", c.BrokerAddr()+c.opts.Broker.URL)
	<-ctx.Done()
	return errors.Join(taking.end(), linking.end(), judging.end(), casing.end(), telling.end(), storing.end())
}

// runStore does what the series store has to do beside what it is asked.
func (c *Collector) runStore(ctx context.Context) error {
	if r, ok := c.store.(series.Runner); ok {
		return r.Run(ctx)
	}
	<-ctx.Done()
	return nil
}
