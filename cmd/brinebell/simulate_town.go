package main

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"time"

	"github.com/spf13/cobra"

	"brinebell/simulator"
	"brinebell/simulator/corpus"
)

// townFlags say which homes are simulated; simulate and score share them.
type townFlags struct {
	corpus, split, faults, start string
	homes, days                  int
	seed                         uint64
	interval                     time.Duration
}

// The defaults of what is simulated without a corpus.
const (
	townHomes = 10
	townDays  = 90
	townSeed  = 1
)

func (f *townFlags) add(cmd *cobra.Command) {
	flags := cmd.Flags()
	f.addCorpus(cmd)
	flags.IntVar(&f.homes, "homes", townHomes, "number of homes; with a corpus, its first so many")
	flags.StringVar(&f.faults, "faults", "mix", "what breaks; see above")
	flags.Uint64Var(&f.seed, "seed", townSeed, "another seed makes other homes; a corpus has its own")
	flags.StringVar(&f.start, "start", "", "first day, UTC, as in 2025-03-01")
	flags.DurationVar(&f.interval, "interval", simulator.DefaultInterval, "between readings of meters, levels, pressure and power")
}

// addCorpus adds what a corpus needs.
func (f *townFlags) addCorpus(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.StringVar(&f.corpus, "corpus", "", "YAML file that says what is simulated, as in testdata/corpora/pairs.yaml")
	flags.StringVar(&f.split, "split", string(corpus.Train), "part of the corpus: train (may be tuned on) or check (for the score alone)")
	flags.IntVar(&f.days, "days", townDays, "days that each is simulated")
	_ = cmd.MarkFlagFilename("corpus", "yaml", "yml")
	_ = cmd.RegisterFlagCompletionFunc("split", cobra.FixedCompletions([]string{"train", "check"}, cobra.ShellCompDirectiveNoFileComp))
}

// townRun is a part of a corpus, ready to be built.
type townRun struct {
	spec corpus.Spec
	part corpus.Split
}

// run makes the corpus that the flags describe.
func (f *townFlags) run(c *cobra.Command) (townRun, error) {
	r := townRun{part: corpus.Split(f.split)}
	var err error
	if f.corpus == "" {
		r.spec, err = corpus.Adhoc(f.homes, f.days, f.seed, f.faults)
	} else {
		r.spec, err = corpus.Load(f.corpus)
	}
	if err != nil {
		return r, inputError{err}
	}
	if err := f.checkParts(c, r); err != nil {
		return r, usage(c, err)
	}
	return r, f.change(c, &r.spec)
}

func (f *townFlags) checkParts(c *cobra.Command, r townRun) error {
	if f.corpus == "" && c.Flags().Changed("split") {
		return errors.New("--split needs --corpus, the file it is a part of")
	}
	if f.corpus != "" && c.Flags().Changed("seed") {
		return fmt.Errorf("--seed: %s has its own seeds; choose with --split train or check", f.corpus)
	}
	_, err := r.spec.Seed(r.part)
	return err
}

// change lets flags that were given overrule the corpus.
func (f *townFlags) change(c *cobra.Command, s *corpus.Spec) error {
	given := c.Flags().Changed
	if given("homes") {
		s.Homes = f.homes
	}
	if given("days") {
		s.Days = f.days
	}
	if given("interval") {
		s.Interval = corpus.Duration(f.interval)
	}
	if given("faults") {
		mix, err := corpus.ParseMix(f.faults)
		if err != nil {
			return inputError{err}
		}
		s.Faults.Mix = mix
	}
	if given("start") {
		day, err := time.Parse(time.DateOnly, f.start)
		if err != nil {
			return usage(c, fmt.Errorf("--start %q is not a day, as in 2025-03-01", f.start))
		}
		s.Start.Time = day
	}
	switch {
	case s.Homes <= 0:
		return usage(c, errors.New("--homes: simulate at least one"))
	case s.Days <= 0:
		return usage(c, errors.New("--days: simulate at least one"))
	case time.Duration(s.Interval) < time.Second || time.Duration(s.Interval) > time.Hour:
		return usage(c, errors.New("--interval: between 1s and 1h"))
	}
	return nil
}

// build makes the homes. As many cores are used as there are.
func (r townRun) build() (*simulator.Town, error) {
	town, err := corpus.Build(r.spec, r.part, 0)
	if err != nil {
		return nil, inputError{err}
	}
	return town, nil
}

// end is when the run is over.
func (r townRun) end() time.Time { return r.spec.Start.AddDate(0, 0, r.spec.Days) }

// progressEvery is how many readings pass between two looks at the clock.
const progressEvery = 1 << 14

// show says how far a run is that has come to at.
func (r townRun) show(line *meter, n int64, at time.Time) {
	share := float64(at.Sub(r.spec.Start.Time)) / float64(r.end().Sub(r.spec.Start.Time))
	line.show(min(1, share), fmt.Sprintf("%s at %s, %s, %s a second", count(int64(r.spec.Homes), "home"), at.Format("2006-01-02 15:04"),
		count(n, "reading"), thousands(int64(float64(n)/line.elapsed().Seconds()))))
}

// seeded is a stream of random numbers that is the same in every run.
func seeded(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 0x5c04e)) } // #nosec G404 -- simulated homes are to come out the same for a seed; nothing secret is drawn
