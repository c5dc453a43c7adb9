package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"brinebell/collector/backup"
	"brinebell/collector/series"
	"brinebell/collector/series/influx"
	"brinebell/collector/series/transfer"
)

// The stores that a copy can be of.
const (
	embeddedStore = "embedded"
	influxStore   = "influx"
)

func storeCopyCommand(s streams) *cobra.Command {
	var config, from, to string
	cmd := &cobra.Command{
		Use:   "copy --config FILE --from embedded --to influx",
		Short: "Copy all readings from one store to another, and compare",
		Long: `Copies all readings between the embedded store (embedded), which is in the data
folder, and the configured InfluxDB (influx). Each home's day is read back and
compared by count and checksum. A copy that was broken off goes on where it was;
copying again does no harm.

"brinebell serve" must not run with the same data folder. The exit status is 1 when
the stores differ at the end.`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			conf, err := commandConfig(c, config)
			if err != nil {
				return err
			}
			if from == to || !known(from) || !known(to) {
				return usage(c, fmt.Errorf("give --from and --to as %s and %s, or the other way round", embeddedStore, influxStore))
			}
			return copyStore(c.Context(), s, conf, from, to)
		},
	}
	cmd.Flags().StringVar(&config, "config", "", "configuration of \"brinebell serve\" (required)")
	cmd.Flags().StringVar(&from, "from", "", "store to copy from: embedded or influx")
	cmd.Flags().StringVar(&to, "to", "", "store to copy to: embedded or influx")
	_ = cmd.MarkFlagFilename("config", "yaml", "yml") // the flag was defined above
	return cmd
}

func known(store string) bool { return store == embeddedStore || store == influxStore }

// openToCopy opens a store by its name.
func (c config) openToCopy(name string) (series.Store, error) {
	if name == embeddedStore {
		// As late as it is kept: a copy brings old readings.
		return series.Open(series.Options{Dir: filepath.Join(c.Data, backup.SeriesDir), Window: time.Duration(c.Retention), Retention: time.Duration(c.Retention)})
	}
	if c.Series.Influx.URL == "" {
		return nil, inputError{errors.New("the configuration names no InfluxDB: set series.influx.url")}
	}
	o, err := c.influxOptions()
	if err != nil {
		return nil, inputError{err}
	}
	return influx.Open(o)
}

func copyStore(ctx context.Context, s streams, conf config, from, to string) (err error) {
	unlock, err := lockFolder(conf.Data)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, unlock()) }()
	o := transfer.Options{Journal: filepath.Join(conf.Data, fmt.Sprintf("copy-%s-%s.journal", from, to))}
	for store, name := range map[*series.Store]string{&o.From: from, &o.To: to} {
		if *store, err = conf.openToCopy(name); err != nil {
			return err
		}
		defer func() { err = errors.Join(err, (*store).Close()) }()
	}
	m := newMeter(s.err)
	o.Shown = func(p transfer.Progress) {
		m.show(float64(p.Done)/float64(max(p.Total, 1)), fmt.Sprintf("%s, %d readings", p.Day.Format(time.DateOnly), p.Readings))
	}
	r, err := transfer.Copy(ctx, o)
	m.clear()
	if err != nil {
		return fmt.Errorf("%w\nThe same command goes on where it was", err)
	}
	fmt.Fprintf(s.out, "%d readings copied and compared, in %d days of homes; %d of them had been copied before\n", r.Readings, r.Total, r.Resumed)
	for _, d := range r.Differences {
		fmt.Fprintf(s.out, "differs: %v\n", d)
	}
	if r.Differing > 0 {
		return fmt.Errorf("%d days of homes are not the same in both stores", r.Differing)
	}
	// The next copy begins anew: there may be more readings by then.
	if err := os.Remove(o.Journal); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	return nil
}
