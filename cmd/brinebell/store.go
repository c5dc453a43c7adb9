package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"brinebell/collector/backup"
	"brinebell/collector/series"
	"brinebell/collector/state"
)

func storeCommand(s streams) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "store",
		Short: "Look after what is stored: set up a server, copy, check",
		Args:  cobra.NoArgs,
		RunE:  func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	cmd.AddCommand(storeSetupCommand(s), storeCopyCommand(s), storeCheckCommand(s))
	return cmd
}

func storeCheckCommand(s streams) *cobra.Command {
	var config string
	var repair bool
	cmd := &cobra.Command{
		Use:   "check --config FILE",
		Short: "Read all that is stored and hold it against its checksums",
		Long: `Reads all that is stored in the data folder and holds it against its checksums,
also while "brinebell serve" runs. The exit status is 1 when something is damaged.

A damaged part of the readings is moved aside by the next "brinebell serve", which
goes on with the rest. What was there can be had from a backup.

A damaged state store (alerts, books, cases, people) keeps "brinebell serve" from
starting. Restore a backup; or, with --repair, keep what can be read of it: the
damaged one stays beside it.`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			conf, err := commandConfig(c, config)
			if err != nil {
				return err
			}
			if repair {
				return repairState(c.Context(), s, conf)
			}
			return checkStores(c.Context(), s, conf)
		},
	}
	cmd.Flags().BoolVar(&repair, "repair", false, "make a new state store of what can be read of the damaged one")
	cmd.Flags().StringVar(&config, "config", "", "configuration of \"brinebell serve\" (required)")
	_ = cmd.MarkFlagFilename("config", "yaml", "yml") // the flag was defined above
	return cmd
}

// errDamaged ends a check that found damage.
var errDamaged = errors.New("something that is stored is damaged")

func checkStores(ctx context.Context, s streams, conf config) error {
	path := filepath.Join(conf.Data, backup.StateFile)
	if _, err := os.Stat(path); err != nil {
		return inputError{fmt.Errorf("nothing is stored in %s", conf.Data)}
	}
	problems, err := state.Check(ctx, path)
	if err != nil {
		return err
	}
	fmt.Fprintf(s.out, "%-12s %s\n", backup.StateFile, soundOr(len(problems), "problems"))
	for _, p := range problems {
		fmt.Fprintf(s.out, "  %s\n", p)
	}
	damaged, err := checkReadings(ctx, s, conf)
	if err != nil {
		return err
	}
	if damaged || len(problems) > 0 {
		return fmt.Errorf("%w; a backup can be restored with \"brinebell restore\"", errDamaged)
	}
	return nil
}

// repairState makes a new state store of a damaged one, and of no other.
func repairState(ctx context.Context, s streams, conf config) (err error) {
	path := filepath.Join(conf.Data, backup.StateFile)
	unlock, err := lockFolder(conf.Data)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, unlock()) }()
	problems, err := state.Check(ctx, path)
	if err != nil {
		return inputError{err}
	}
	if len(problems) == 0 {
		fmt.Fprintf(s.out, "%s is sound; there is nothing to repair\n", path)
		return nil
	}
	r, err := state.Repair(ctx, path)
	if err != nil {
		return err
	}
	fmt.Fprintf(s.out, "%d rows were kept; the damaged store is %s\n", r.Rows, r.Kept)
	for _, l := range r.Lost {
		if l.Rows < 0 {
			fmt.Fprintf(s.out, "lost: some rows of %s\n", l.Table)
			continue
		}
		fmt.Fprintf(s.out, "lost: at most %d rows of %s\n", l.Rows, l.Table)
	}
	return nil
}

func soundOr(n int, what string) string {
	if n == 0 {
		return "sound"
	}
	return fmt.Sprintf("%d %s", n, what)
}

func checkReadings(ctx context.Context, s streams, conf config) (damaged bool, err error) {
	if conf.Series.Influx.URL != "" {
		fmt.Fprintf(s.out, "%-12s kept by the InfluxDB at %s, which checks its own files\n", "readings", conf.Series.Influx.URL)
		return false, nil
	}
	m := newMeter(s.err)
	c, err := series.Check(ctx, filepath.Join(conf.Data, backup.SeriesDir), func(done, of int) {
		m.show(float64(done)/float64(of), fmt.Sprintf("block %d of %d", done+1, of))
	})
	m.clear()
	if err != nil {
		return false, err
	}
	torn := 0
	for _, d := range c.Damage {
		if d.Torn {
			torn++
		}
	}
	fmt.Fprintf(s.out, "%-12s %s; %d readings in %d blocks\n", "readings", soundOr(len(c.Damage)-torn, "damaged parts"), c.Samples, c.Blocks)
	for _, d := range c.Damage {
		if d.Torn {
			fmt.Fprintf(s.out, "  %s is being written, or its end was cut off by a crash; the next start mends it\n", d.Part)
			continue
		}
		fmt.Fprintf(s.out, "  %v\n", d)
	}
	return len(c.Damage) > torn, nil
}
