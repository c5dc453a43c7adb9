package main

import (
	"errors"

	"github.com/spf13/cobra"
)

func serveCommand(s streams) *cobra.Command {
	var path string
	cmd := &cobra.Command{
		Use:   "serve --config FILE",
		Short: "Collect readings from a broker, watch the homes and serve the pages",
		Long: `Collects readings from an MQTT broker, or runs one itself, stores them, watches
the homes and serves the pages. It stops at an interrupt without losing anything
that it has acknowledged.

A configuration ("brinebell help config" has every key with its default):

  data: /var/lib/brinebell        # folder of the stores
  homes: homes.yaml               # the homes' profiles
  listen: 127.0.0.1:8480          # address of the pages
  title: Saltmarsh
  retention: 10 y                 # how long readings are kept
  broker:
    listen: 0.0.0.0:1883          # run a broker here, or
    # url: tcp://broker:1883      # use one elsewhere
    # username: brinebell
    # password_file: broker.password
  adapters:                       # sensors that do not speak SenML
    - topic: plumbing/{home}/main
      pointer: /total_gal
      signal: inlet_volume
      unit: gal
  log: {level: info, format: text}

Sensors publish SenML (RFC 8428) to homes/<home>/sensors/<device>, each by the name
and password that "brinebell devices" gave it. Pages are at /, for people who have
signed in; while nobody can, a link to make the first account is printed. Programs
use /api/v1 with a token, described at /api/v1/openapi.json. Health is at /healthz
for everybody, metrics at /metrics for this machine and tokens of operators. What cannot be used is logged, counted by
reason and acknowledged all the same.`,
		Args: takesNothing,
		RunE: func(c *cobra.Command, _ []string) error { return runServe(c, s, path) },
	}
	cmd.Flags().StringVar(&path, "config", "", "configuration file (required)")
	_ = cmd.MarkFlagFilename("config", "yaml", "yml") // the flag was defined above
	return cmd
}

func runServe(c *cobra.Command, s streams, path string) error {
	if path == "" {
		return usage(c, errors.New("--config is required: the configuration file"))
	}
	conf, err := readConfig(path)
	if err != nil {
		return inputError{err}
	}
	logger := calmed(conf.logger(s.err))
	o, err := conf.collector(logger)
	if err != nil {
		return inputError{err}
	}
	conf.warn(logger)
	accounts, err := conf.accounts()
	if err != nil {
		return inputError{err}
	}
	srv, err := openService(c.Context(), serviceOptions{collector: o, listen: conf.Listen, title: conf.Title, accounts: accounts})
	if err != nil {
		return err
	}
	if err := srv.greet(c.Context(), s.out, accounts); err != nil {
		return errors.Join(err, srv.Close())
	}
	logger.Info("serving", "pages", srv.URL(), "broker", srv.collector.BrokerAddr(), "homes", len(o.Homes), "data", conf.Data)
	return errors.Join(srv.Run(c.Context()), srv.Close())
}
