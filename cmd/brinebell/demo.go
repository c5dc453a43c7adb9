package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/sync/errgroup"

	"brinebell/collector"
	"brinebell/collector/feeder"
	"brinebell/simulator"
)

type demoFlags struct {
	listen, data string
	seed         uint64
	secondsADay  float64
	verbose      bool
}

const (
	demoSeed = 7
	// demoSecondsADay lets all troubles begin and be found within two minutes.
	demoSecondsADay = 4
)

func demoCommand(s streams) *cobra.Command {
	var f demoFlags
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Watch six simulated homes, each with a trouble of its own",
		Long: `Runs everything in one: six simulated homes of the made-up town of Brackenford
publish their sensors' readings to an embedded broker at accelerated time; the
collector stores them, watches the homes and raises alerts; the pages show them.
A simulated day passes in seconds; the last one is yesterday. Nothing is kept unless
--data names a folder: run again with the same one, the demo goes on where it was.`,
		Example: `  brinebell demo
  brinebell demo --listen 127.0.0.1:9000 --seconds-a-day 10`,
		Args: takesNothing,
		RunE: func(c *cobra.Command, _ []string) error { return runDemo(c.Context(), s, f) },
	}
	cmd.Flags().StringVar(&f.listen, "listen", "127.0.0.1:8480", "address of the pages; port 0 takes a free one")
	cmd.Flags().StringVar(&f.data, "data", "", "folder to keep the stores in; a temporary one when empty")
	cmd.Flags().Uint64Var(&f.seed, "seed", demoSeed, "another seed makes other homes")
	cmd.Flags().Float64Var(&f.secondsADay, "seconds-a-day", demoSecondsADay, "seconds that a simulated day takes")
	cmd.Flags().BoolVar(&f.verbose, "verbose", false, "log what the collector does")
	return cmd
}

func runDemo(ctx context.Context, s streams, f demoFlags) error {
	if f.secondsADay <= 0 {
		return inputError{errors.New("--seconds-a-day must be more than nothing")}
	}
	keep := f.data != ""
	if !keep {
		dir, err := os.MkdirTemp("", "brinebell-demo-")
		if err != nil {
			return err
		}
		defer os.RemoveAll(dir)
		f.data = dir
	}
	d, err := newDemo(ctx, s, f)
	if err != nil {
		return err
	}
	if err := d.run(ctx); err != nil {
		return err
	}
	d.teller.goodbye(f.data, keep)
	return nil
}

// demo is the whole demonstration.
type demo struct {
	town    *simulator.Town
	service *service
	speed   float64
	now     atomic.Int64         // simulated, Unix ms
	stored  map[string]time.Time // newest reading of each home in an earlier run
	teller  *teller
}

func newDemo(ctx context.Context, s streams, f demoFlags) (*demo, error) {
	plan, err := planDemo(f.data, f.seed, time.Now())
	if err != nil {
		return nil, err
	}
	town, err := simulator.DemoTown(plan.Seed, plan.Start)
	if err != nil {
		return nil, err
	}
	d := &demo{town: town, speed: 86400 / f.secondsADay, teller: newTeller(s.out, town.Homes(), plan.Start)}
	d.now.Store(plan.Start.UnixMilli())
	logger := slog.New(slog.DiscardHandler)
	if f.verbose {
		logger = slog.New(slog.NewTextHandler(s.err, nil))
	}
	profiles, err := profilesOf(town.Homes())
	if err != nil {
		return nil, err
	}
	d.service, err = openService(ctx, serviceOptions{
		collector: collector.Options{Dir: f.data, Homes: town.Homes(), Profiles: profiles, Broker: collector.BrokerOptions{Listen: "127.0.0.1:0"},
			Clock: d.clock, NoSync: true, Logger: logger,
			Care: collector.CareOptions{FirmOf: func(string) string { return demoFirm }, WatchEvery: demoWatchEvery}},
		listen: f.listen, title: "Brackenford", changed: d.teller.tell, actsAs: onlooker(),
	})
	if errors.Is(err, syscall.EADDRINUSE) {
		return nil, fmt.Errorf("%w\nIs another demo running? Give this one another address with --listen 127.0.0.1:0", err)
	}
	if err != nil {
		return nil, err
	}
	if err := d.recall(ctx); err != nil {
		return nil, errors.Join(err, d.service.Close())
	}
	return d, nil
}

// clock is the simulated present.
func (d *demo) clock() time.Time { return time.UnixMilli(d.now.Load()).UTC() }

func (d *demo) run(ctx context.Context) error {
	d.teller.greet(d.service.URL(), d.service.collector.BrokerAddr())
	g, ctx := errgroup.WithContext(ctx)
	g.Go(func() error { return d.service.Run(ctx) })
	g.Go(func() error { return d.live(ctx) })
	err := g.Wait()
	if errors.Is(err, context.Canceled) {
		err = nil
	}
	return errors.Join(err, d.service.Close())
}

// live lets the town live and its sensors publish.
func (d *demo) live(ctx context.Context) error {
	f, err := feeder.Connect(ctx, feeder.Options{URL: "tcp://" + d.service.collector.BrokerAddr(), ClientID: "brackenford"})
	if err != nil {
		return err
	}
	pace := feeder.Pace{Speed: d.speed}
	for a, err := range d.town.Arrivals(ctx) {
		if err != nil {
			return err
		}
		if !a.Time.After(d.stored[a.Home]) {
			continue
		}
		if err := pace.Wait(ctx, a.Arrived); err != nil {
			return err
		}
		d.now.Store(a.Arrived.UnixMilli())
		if err := f.Add(ctx, a.Reading); err != nil {
			return err
		}
		d.teller.day(a.Arrived)
	}
	if err := f.Close(ctx); err != nil {
		return err
	}
	d.teller.end()
	<-ctx.Done()
	return nil
}
