package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/sync/errgroup"

	"brinebell/collector"
	"brinebell/collector/feeder"
	"brinebell/detect"
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
	// demoBack is how long before today the simulated time begins, so that it
	// has dates people have lived.
	demoBack = 120 * 24 * time.Hour
)

func demoCommand(s streams) *cobra.Command {
	var f demoFlags
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Watch six simulated homes, each with a trouble of its own",
		Long: `Runs everything in one: six simulated homes of the made-up town of Brackenford
publish their sensors' readings to an embedded broker at accelerated time; the
collector stores them, watches the homes and raises alerts; the pages show them.
A simulated day passes in seconds. Nothing is kept unless --data names a folder.`,
		Example: `  brinebell demo
  brinebell demo --listen 127.0.0.1:9000 --seconds-a-day 10`,
		Args: cobra.NoArgs,
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
	if f.data == "" {
		dir, err := os.MkdirTemp("", "brinebell-demo-")
		if err != nil {
			return err
		}
		defer os.RemoveAll(dir)
		f.data = dir
	}
	d, err := newDemo(ctx, s.out, f)
	if err != nil {
		return err
	}
	return d.run(ctx)
}

// demo is the whole demonstration.
type demo struct {
	town    *simulator.Town
	service *service
	speed   float64
	now     atomic.Int64 // simulated, Unix ms
	teller  *teller
}

func newDemo(ctx context.Context, out io.Writer, f demoFlags) (*demo, error) {
	start := time.Now().Add(-demoBack).UTC().Truncate(24 * time.Hour)
	town, err := simulator.DemoTown(f.seed, start)
	if err != nil {
		return nil, err
	}
	d := &demo{town: town, speed: 86400 / f.secondsADay, teller: newTeller(out, town.Homes())}
	d.now.Store(start.UnixMilli())
	logger := slog.New(slog.DiscardHandler)
	if f.verbose {
		logger = slog.New(slog.NewTextHandler(os.Stderr, nil))
	}
	d.service, err = openService(ctx, serviceOptions{
		collector: collector.Options{Dir: f.data, Homes: town.Homes(), Broker: collector.BrokerOptions{Listen: "127.0.0.1:0"},
			Clock: d.clock, NoSync: true, Logger: logger},
		listen: f.listen, title: "Brackenford", changed: d.teller.tell,
	})
	if err != nil {
		return nil, fmt.Errorf("%w\nIs another demo running? Give this one another address with --listen 127.0.0.1:0", err)
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

// teller says on the terminal what happens.
type teller struct {
	mu    sync.Mutex // guards all below; alerts and days come from two goroutines
	out   io.Writer
	homes map[string]detect.Home
	told  map[string]bool // alerts, and alerts over, by id
	today time.Time
	start time.Time
}

func newTeller(out io.Writer, homes []detect.Home) *teller {
	t := &teller{out: out, homes: map[string]detect.Home{}, told: map[string]bool{}}
	for _, h := range homes {
		t.homes[h.ID] = h
	}
	return t
}

func (t *teller) greet(url, broker string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	fmt.Fprintf(t.out, "Brackenford: %d simulated homes. Nothing is wrong for the first days; then troubles begin.\n\n"+
		"  Pages:  %s\n  Broker: mqtt://%s (sensors publish to homes/<home>/sensors/<device>)\n\nStop with Ctrl-C.\n\n", len(t.homes), url, broker)
}

// day says each tenth day how many homes are quiet.
func (t *teller) day(now time.Time) {
	t.mu.Lock()
	defer t.mu.Unlock()
	day := now.Truncate(24 * time.Hour)
	if day.Equal(t.today) {
		return
	}
	t.today = day
	if t.start.IsZero() {
		t.start = day
	}
	if n := int(day.Sub(t.start).Hours() / 24); n == 3 || n%10 == 0 && n > 0 {
		troubled := map[string]bool{}
		for key := range t.told {
			home, _, _ := strings.Cut(key, " ")
			troubled[home] = true
		}
		fmt.Fprintf(t.out, "%s  Day %d: %d of %d homes have been quiet all the time.\n\n", day.Format("2006-01-02"), n, len(t.homes)-len(troubled), len(t.homes))
	}
}

func (t *teller) tell(alerts []detect.Alert) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, a := range alerts {
		key := a.Home + " " + a.ID
		if !a.Open() {
			key += " over"
		}
		if t.told[key] {
			continue
		}
		t.told[key] = true
		if h := t.homes[a.Home]; !a.Open() {
			fmt.Fprintf(t.out, "%s  %s: %s is over\n\n", a.Cleared.In(h.Location).Format("2006-01-02 15:04"), h.Name, kindWords(a.Kind))
			continue
		}
		printAlert(t.out, a, t.homes[a.Home])
	}
}

func (t *teller) end() {
	t.mu.Lock()
	defer t.mu.Unlock()
	fmt.Fprintln(t.out, "The simulated time is over. The pages stay until Ctrl-C.")
}
