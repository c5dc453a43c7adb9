package main

import (
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"go.yaml.in/yaml/v3"

	"brinebell/collector/series"
	"brinebell/collector/series/influx"
	"brinebell/collector/series/spool"
)

// seriesConfig says where readings are kept.
type seriesConfig struct {
	FiveMinutes span         `yaml:"five_minutes" doc:"how long sums of five minutes are kept, after the readings are gone"`
	Hours       span         `yaml:"hours" doc:"how long sums of an hour are kept"`
	Influx      influxConfig `yaml:"influx" doc:"an InfluxDB to keep readings in, in place of files in the data folder"`
	Spool       spoolConfig  `yaml:"spool" doc:"where readings wait for the InfluxDB"`
}

type influxConfig struct {
	URL          string `yaml:"url" doc:"its address, as in http://influx:8086"`
	Org          string `yaml:"org" doc:"organisation; InfluxDB 1.8 has none"`
	Bucket       string `yaml:"bucket" doc:"bucket; with InfluxDB 1.8 database/retention policy, as in brinebell/autogen"`
	TokenFile    string `yaml:"token_file" doc:"file with the token"`
	User         string `yaml:"user" doc:"user, with InfluxDB 1.8"`
	PasswordFile string `yaml:"password_file" doc:"file with the user's password"`
}

type spoolConfig struct {
	Dir   string `yaml:"dir" doc:"its folder; in the data folder when empty"`
	Limit size   `yaml:"limit" doc:"what may wait, some 14 bytes a reading; beyond it the broker keeps messages"`
	Rate  int    `yaml:"rate" doc:"readings handed on in a second at most"`
}

func defaultSeriesConfig() seriesConfig {
	return seriesConfig{FiveMinutes: span(series.DefaultFiveMinutes), Hours: span(series.DefaultHours),
		Influx: influxConfig{Bucket: "brinebell/autogen"}, Spool: spoolConfig{Limit: spool.DefaultLimit, Rate: spool.DefaultRate}}
}

// paths are those that may be relative to the configuration.
func (c *seriesConfig) paths() []*string {
	return []*string{&c.Influx.TokenFile, &c.Influx.PasswordFile, &c.Spool.Dir}
}

func (c seriesConfig) validate() error {
	var errs []error
	if c.Influx.TokenFile != "" && c.Influx.User != "" {
		errs = append(errs, errors.New("series.influx: give either token_file, or user and password_file"))
	}
	if (c.Influx.User == "") != (c.Influx.PasswordFile == "") {
		errs = append(errs, errors.New("series.influx: user and password_file belong together"))
	}
	if c.Spool.Limit < 1<<20 {
		errs = append(errs, fmt.Errorf("series.spool.limit: %v is too small; the least is 1 MiB", c.Spool.Limit))
	}
	if c.Spool.Rate <= 0 {
		errs = append(errs, errors.New("series.spool.rate: it must be more than 0"))
	}
	return errors.Join(errs...)
}

// influxOptions are those of the configured server.
func (c config) influxOptions() (o influx.Options, err error) {
	i := c.Series.Influx
	o = influx.Options{URL: i.URL, Org: i.Org, Bucket: i.Bucket, Retention: time.Duration(c.Retention)}
	switch {
	case i.TokenFile != "":
		o.Token, err = secret(i.TokenFile)
	case i.User != "":
		o.Token, err = secret(i.PasswordFile)
		o.Token = i.User + ":" + o.Token
	}
	return o, err
}

// secret is what a file holds, without the line's end.
func secret(path string) (string, error) {
	b, err := os.ReadFile(path) // #nosec G304 -- the path is given by whoever runs the command or the service
	return strings.TrimSpace(string(b)), err
}

// openStore is how the collector opens the configured InfluxDB; nil for the
// embedded store.
func (c config) openStore(logger *slog.Logger) (func(prometheus.Registerer) (series.Store, error), error) {
	if c.Series.Influx.URL == "" {
		return nil, nil
	}
	o, err := c.influxOptions()
	if err != nil {
		return nil, err
	}
	return func(reg prometheus.Registerer) (series.Store, error) {
		server, err := influx.Open(o)
		if err != nil {
			return nil, err
		}
		return spool.Open(spool.Options{Dir: c.spoolDir(), Store: server, Limit: int64(c.Series.Spool.Limit), Rate: float64(c.Series.Spool.Rate),
			Logger: logger.With("part", "spool"), Registerer: reg})
	}, nil
}

func (c config) spoolDir() string {
	if c.Series.Spool.Dir != "" {
		return c.Series.Spool.Dir
	}
	return filepath.Join(c.Data, "spool")
}

// size is a number of bytes, written as 500 MB or 1 GiB.
type size int64

var sizeUnits = []struct {
	name  string
	bytes int64
}{{"TiB", 1 << 40}, {"GiB", 1 << 30}, {"MiB", 1 << 20}, {"KiB", 1 << 10}, {"TB", 1e12}, {"GB", 1e9}, {"MB", 1e6}, {"kB", 1e3}, {"B", 1}}

// String is the size in the largest unit that holds it whole.
func (s size) String() string {
	for _, u := range sizeUnits {
		if n := int64(s) / u.bytes; n > 0 && n*u.bytes == int64(s) {
			return fmt.Sprintf("%d %s", n, u.name)
		}
	}
	return fmt.Sprintf("%d B", int64(s))
}

// UnmarshalYAML reads the size.
func (s *size) UnmarshalYAML(n *yaml.Node) error {
	for _, u := range sizeUnits {
		if number, ok := strings.CutSuffix(strings.TrimSpace(n.Value), u.name); ok {
			if v, err := strconv.ParseFloat(strings.TrimSpace(number), 64); err == nil && v >= 0 && v*float64(u.bytes) < 1<<62 {
				*s = size(v * float64(u.bytes))
				return nil
			}
		}
	}
	return atLine(n, fmt.Sprintf("%q is no size, as in 500 MB or 1 GiB", n.Value))
}
