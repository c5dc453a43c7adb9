package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"brinebell/collector/feeder"
	"brinebell/simulator"
)

type simulateFlags struct {
	town                    townFlags
	record, homesOut, truth string
	broker, user, password  string
	speed                   float64
}

func simulateCommand(s streams) *cobra.Command {
	var f simulateFlags
	cmd := &cobra.Command{
		Use:   "simulate",
		Short: "Simulate homes: write a recording with its truth, or publish live",
		Long: `Simulates homes that do not exist, with what their sensors measure and, beside
it, the truth about what is wrong with them. Give at least one output.

To files: --record writes the readings (CSV; SenML where the name ends in
.senml or .jsonl; gzipped where it ends in .gz), --homes-out the profiles that
"brinebell replay" needs, --truth the faults that "brinebell score" needs. "-"
is the standard output. The same seed gives the same bytes on any machine and
any number of cores, and home 7 is the same whether 10 or 1000 are simulated.

Live: --broker publishes to homes/<home>/sensors/hub, as SenML packs at quality
of service 1, --speed times as fast as life. Simulated time begins so that it
catches up with the clock on the wall at the end of the run and never passes
it: 30 days at --speed 60 take 12 hours and begin 29.5 days ago; at --speed 1
they begin now. --start names another day to begin at, which may then lead into
the future. --speed 0 publishes as fast as the broker takes it.

What breaks, --faults:
  none          nothing
  each          the causes in turn, one a home
  pairs         every two causes in turn, two a home
  mix           causes at random: most homes one, some two
  a,b+c         homes in turn: one with a alone, one with b and c together
  a,none        every second home with a
  a:0.3         a at a severity of 0.3; without a number it is drawn
"brinebell help faults" names all that there are.
Faults begin in the middle of the run and are repaired near its end, unless
a corpus says otherwise. A corpus is a YAML file that says all of this at once;
see testdata/corpora. --homes, --days, --interval, --start and --faults change
what it says.`,
		Example: `  brinebell simulate --homes 20 --days 60 --faults each \
      --record town.csv.gz --homes-out homes.yaml --truth truth.csv
  brinebell simulate --homes 2 --days 30 --faults flapper_leak:0.5,salt_bridge --truth -
  brinebell simulate --corpus testdata/corpora/pairs.yaml --split train --homes 29 --record pairs.csv.gz --truth truth.csv
  brinebell simulate --homes 5 --days 30 --faults mix --homes-out homes.yaml \
      --broker tcp://127.0.0.1:1883 --speed 600`,
		Args: takesNothing,
		RunE: func(c *cobra.Command, _ []string) error { return runSimulate(c, s, f) },
	}
	f.town.add(cmd)
	cmd.Flags().StringVar(&f.record, "record", "", `recording to write, as in town.csv.gz; "-": standard output`)
	cmd.Flags().StringVar(&f.homesOut, "homes-out", "", "homes file to write, with the profile of every home")
	cmd.Flags().StringVar(&f.truth, "truth", "", "truth to write: home,fault,start,end,severity")
	cmd.Flags().StringVar(&f.broker, "broker", "", "broker to publish to, as in tcp://127.0.0.1:1883")
	cmd.Flags().StringVar(&f.user, "username", "", "name at the broker")
	cmd.Flags().StringVar(&f.password, "password-file", "", "file with the password at the broker")
	cmd.Flags().Float64Var(&f.speed, "speed", 60, "simulated seconds a second, with --broker; 0: as fast as it goes")
	_ = cmd.MarkFlagFilename("homes-out", "yaml", "yml")
	_ = cmd.MarkFlagFilename("truth", "csv")
	return cmd
}

func (f *simulateFlags) check(c *cobra.Command) error {
	if f.record == "" && f.homesOut == "" && f.truth == "" && f.broker == "" {
		return usage(c, errors.New("nothing to write: give --record, --homes-out, --truth or --broker"))
	}
	if f.speed < 0 {
		return usage(c, errors.New("--speed cannot be less than nothing; 0 is as fast as it goes"))
	}
	if f.broker == "" {
		for _, name := range []string{"speed", "username", "password-file"} {
			if c.Flags().Changed(name) {
				return usage(c, fmt.Errorf("--%s needs --broker, the broker to publish to", name))
			}
		}
	}
	seen := map[string]bool{}
	for _, path := range []string{f.record, f.homesOut, f.truth} {
		if path != "" && seen[path] {
			return usage(c, fmt.Errorf("two outputs to %q: give each its own file", path))
		}
		seen[path] = true
	}
	return nil
}

func runSimulate(c *cobra.Command, s streams, f simulateFlags) error {
	if err := f.check(c); err != nil {
		return err
	}
	run, err := f.town.run(c)
	if err != nil {
		return err
	}
	if f.broker != "" && !c.Flags().Changed("start") {
		run.spec.Start.Time = liveStart(time.Now(), run.spec.Days, f.speed)
	}
	town, err := run.build()
	if err != nil {
		return err
	}
	if err := writeAside(s, f, town); err != nil {
		return err
	}
	return play(c.Context(), s, f, run, town)
}

// liveStart is where simulated time must begin to catch up with now, and not
// pass it, when so many days pass at a speed.
func liveStart(now time.Time, days int, speed float64) time.Time {
	length := time.Duration(days) * 24 * time.Hour
	back := length
	if speed > 0 {
		back = max(0, length-time.Duration(float64(length)/speed))
	}
	return now.UTC().Add(-back).Truncate(time.Minute)
}

// writeAside writes what is known before anything is played.
func writeAside(s streams, f simulateFlags, town *simulator.Town) error {
	if f.homesOut != "" {
		if err := writeOut(s, f.homesOut, homesOf(town)); err != nil {
			return err
		}
	}
	if f.truth == "" {
		return nil
	}
	return writeOut(s, f.truth, truthOf(town))
}

// play lets the town live into every sink that was asked for.
func play(ctx context.Context, s streams, f simulateFlags, run townRun, town *simulator.Town) (err error) {
	var sinks []sink
	defer func() {
		for _, k := range sinks {
			err = k.close(err)
		}
	}()
	if f.record != "" {
		k, err := openRecord(s, f.record)
		if err != nil {
			return err
		}
		sinks = append(sinks, k)
	}
	if f.broker != "" {
		k, err := openLive(ctx, f)
		if err != nil {
			return err
		}
		sinks = append(sinks, k)
	}
	if len(sinks) == 0 {
		return nil
	}
	line := newMeter(s.err)
	defer line.clear()
	n := int64(0)
	err = town.Run(ctx, func(a simulator.Arrival) error {
		if n++; n%progressEvery == 0 || f.broker != "" {
			run.show(line, n, a.Arrived)
		}
		for _, k := range sinks {
			if err := k.take(ctx, a); err != nil {
				return err
			}
		}
		return nil
	})
	if line.clear(); err == nil && line.live {
		fmt.Fprintf(s.err, "%s and %s simulated: %s.\n", count(int64(run.spec.Homes), "home"), count(int64(run.spec.Days), "day"), count(n, "reading"))
	}
	return err
}

// sink takes readings as they arrive. close is told how the run ended and
// returns how it ended for good.
type sink interface {
	take(context.Context, simulator.Arrival) error
	close(error) error
}

var (
	_ sink = (*recordSink)(nil)
	_ sink = (*liveSink)(nil)
)

// liveSink publishes at the pace of simulated time.
type liveSink struct {
	ctx    context.Context
	feeder *feeder.Feeder
	pace   feeder.Pace
}

// livePack is how long a reading may wait for its pack to fill, on the wall's
// clock.
const livePack = 2 * time.Second

func openLive(ctx context.Context, f simulateFlags) (sink, error) {
	o := feeder.Options{URL: f.broker, ClientID: "brinebell-simulate", Username: f.user}
	if f.speed > 0 {
		o.Pack = min(feeder.DefaultPack, max(time.Second, time.Duration(f.speed*float64(livePack))))
	}
	var err error
	if f.password != "" {
		if o.Password, err = passwordFrom(f.password); err != nil {
			return nil, err
		}
	}
	k := &liveSink{ctx: ctx, pace: feeder.Pace{Speed: f.speed}}
	if k.feeder, err = feeder.Connect(ctx, o); err != nil {
		return nil, fmt.Errorf("%w\nIs a broker running there? The form is tcp://host:port, as in tcp://127.0.0.1:1883", err)
	}
	return k, nil
}

func (k *liveSink) take(ctx context.Context, a simulator.Arrival) error {
	if err := k.pace.Wait(ctx, a.Arrived); err != nil {
		return err
	}
	return k.feeder.Add(ctx, a.Reading)
}

func (k *liveSink) close(ended error) error {
	return errors.Join(ended, k.feeder.Close(k.ctx))
}
