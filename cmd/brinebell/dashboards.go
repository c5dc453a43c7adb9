package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"brinebell/dashboards/grafana"
	"brinebell/dashboards/prometheus"
)

func dashboardsCommand(s streams) *cobra.Command {
	var dir string
	cmd := &cobra.Command{
		Use:   "dashboards --out DIR",
		Short: "Write Grafana dashboards and Prometheus alert rules to a folder",
		Long: `Writes what an operator gives to the servers that watch the collector:

  DIR/grafana/*.json          dashboards of a home, of many homes and of the
                              collectors, to import into Grafana
  DIR/prometheus/alerts.yaml  alert rules, with what to do
  DIR/prometheus/scrape.yaml  how Prometheus finds the collector

The collectors' dashboard and the alerts need Prometheus, the homes' dashboards
an InfluxDB as the series store. Files that are there are replaced.`,
		Example: `  brinebell dashboards --out /etc/brinebell/dashboards`,
		Args:    takesNothing,
		RunE: func(c *cobra.Command, _ []string) error {
			if dir == "" {
				return usage(c, errors.New("--out is required: the folder to write to"))
			}
			if err := writeDashboards(dir); err != nil {
				return err
			}
			_, err := fmt.Fprintf(s.out, "Dashboards and alert rules are in %s.\n", dir)
			return err
		},
	}
	cmd.Flags().StringVar(&dir, "out", "", "folder to write to, made when it is not there (required)")
	_ = cmd.MarkFlagDirname("out") // the flag was defined above
	return cmd
}

func writeDashboards(dir string) error {
	if err := grafana.Write(filepath.Join(dir, "grafana")); err != nil {
		return err
	}
	rules := filepath.Join(dir, "prometheus")
	if err := os.MkdirAll(rules, 0o755); err != nil { // #nosec G301 -- meant to be read by others: nothing secret is in it
		return err
	}
	return errors.Join(
		os.WriteFile(filepath.Join(rules, "alerts.yaml"), prometheus.Alerts(), 0o644), // #nosec G306 -- meant to be read by others: nothing secret is in it
		os.WriteFile(filepath.Join(rules, "scrape.yaml"), prometheus.Scrape(), 0o644)) // #nosec G306 -- meant to be read by others: nothing secret is in it
}
