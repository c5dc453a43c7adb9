package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"brinebell/collector/series/influx"
)

func storeSetupCommand(s streams) *cobra.Command {
	var o struct {
		config       string
		dry, shorten bool
	}
	cmd := &cobra.Command{
		Use:   "setup --config FILE",
		Short: "Make in the InfluxDB what readings need: buckets, retention, downsampling",
		Long: `Makes what is missing in the configured InfluxDB, and nothing else, so that it can be
run again at any time: with InfluxDB 2 a bucket for readings and one each for sums
of five minutes and of an hour, with tasks that work the sums out; with 1.8 a
database with retention policies and continuous queries. Sums are worked out for the
last day, each hour anew.

What keeps longer than the configuration says is left so, unless --shorten is given.`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			conf, err := commandConfig(c, o.config)
			if err != nil {
				return err
			}
			return setUpStore(c.Context(), s, conf, o.dry, o.shorten)
		},
	}
	cmd.Flags().StringVar(&o.config, "config", "", "configuration of \"brinebell serve\" (required)")
	cmd.Flags().BoolVar(&o.dry, "dry-run", false, "only say what would be done")
	cmd.Flags().BoolVar(&o.shorten, "shorten", false, "also make retention shorter, which deletes what is older")
	_ = cmd.MarkFlagFilename("config", "yaml", "yml") // the flag was defined above
	return cmd
}

func setUpStore(ctx context.Context, s streams, conf config, dry, shorten bool) (err error) {
	if conf.Series.Influx.URL == "" {
		fmt.Fprintln(s.out, "readings are kept in the data folder, where there is nothing to set up")
		return nil
	}
	o, err := conf.influxOptions()
	if err != nil {
		return inputError{err}
	}
	server, err := influx.Open(o)
	if err != nil {
		return inputError{err}
	}
	defer func() { err = errors.Join(err, server.Close()) }()
	steps, err := server.Missing(ctx, influx.Setup{Retention: time.Duration(conf.Retention), Shorten: shorten,
		FiveMinutes: time.Duration(conf.Series.FiveMinutes), Hours: time.Duration(conf.Series.Hours)})
	if err != nil {
		return err
	}
	done := 0
	for _, step := range steps {
		if step.Do == nil {
			fmt.Fprintf(s.out, "note: %s\n", step.Text)
			continue
		}
		if done++; dry {
			fmt.Fprintf(s.out, "would %s\n", step.Text)
			continue
		}
		if err := step.Do(ctx); err != nil {
			return fmt.Errorf("%s: %w", step.Text, err)
		}
		fmt.Fprintf(s.out, "done: %s\n", step.Text)
	}
	if done == 0 {
		fmt.Fprintf(s.out, "%s has everything\n", conf.Series.Influx.URL)
	}
	return nil
}
