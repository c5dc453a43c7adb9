package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"brinebell/collector"
	"brinebell/collector/adapter"
)

// config is the file that "brinebell serve" reads. Paths in it are relative to
// the file.
type config struct {
	Data      string           `yaml:"data"`      // folder of the stores
	Homes     string           `yaml:"homes"`     // homes file
	Listen    string           `yaml:"listen"`    // address of the pages
	Title     string           `yaml:"title"`     // what the homes are called together
	Retention time.Duration    `yaml:"retention"` // of readings
	Window    time.Duration    `yaml:"late"`      // how late a reading may come
	Broker    brokerConfig     `yaml:"broker"`
	Adapters  []adapter.Config `yaml:"adapters"`
	Log       logConfig        `yaml:"log"`
}

type brokerConfig struct {
	Listen       string            `yaml:"listen"` // of the embedded broker
	Users        map[string]string `yaml:"users"`  // names and passwords at the embedded broker
	URL          string            `yaml:"url"`    // of a broker elsewhere
	ClientID     string            `yaml:"client_id"`
	Username     string            `yaml:"username"`
	PasswordFile string            `yaml:"password_file"`
}

type logConfig struct {
	Level  slog.Level `yaml:"level"`
	Format string     `yaml:"format"` // text or json
}

// defaultListen keeps the pages on this machine until somebody decides
// otherwise.
const defaultListen = "127.0.0.1:8480"

// readConfig reads a configuration; what is wrong is said with file and line.
func readConfig(path string) (config, error) {
	c := config{Data: "brinebell-data", Homes: "homes.yaml", Listen: defaultListen, Title: "Homes", Log: logConfig{Format: "text"}}
	text, err := os.ReadFile(path)
	if err != nil {
		return c, err
	}
	d := yaml.NewDecoder(bytes.NewReader(text))
	d.KnownFields(true)
	if err := d.Decode(&c); err != nil && !errors.Is(err, io.EOF) {
		return c, fmt.Errorf("%s: %s", path, strings.TrimPrefix(err.Error(), "yaml: "))
	}
	if err := c.validate(); err != nil {
		return c, fmt.Errorf("%s: %w", path, err)
	}
	dir := filepath.Dir(path)
	for _, p := range []*string{&c.Data, &c.Homes, &c.Broker.PasswordFile} {
		if *p != "" && !filepath.IsAbs(*p) {
			*p = filepath.Join(dir, *p)
		}
	}
	return c, nil
}

func (c config) validate() error {
	var errs []error
	if (c.Broker.Listen == "") == (c.Broker.URL == "") {
		errs = append(errs, errors.New("broker: give either listen, for the embedded broker, or url, for another"))
	}
	if c.Log.Format != "text" && c.Log.Format != "json" {
		errs = append(errs, fmt.Errorf("log.format: %q: use text or json", c.Log.Format))
	}
	for i, a := range c.Adapters {
		if _, err := adapter.New(a); err != nil {
			errs = append(errs, fmt.Errorf("adapters[%d]: %w", i, err))
		}
	}
	return errors.Join(errs...)
}

func (c config) logger(out io.Writer) *slog.Logger {
	o := &slog.HandlerOptions{Level: c.Log.Level}
	if c.Log.Format == "json" {
		return slog.New(slog.NewJSONHandler(out, o))
	}
	return slog.New(slog.NewTextHandler(out, o))
}

// collector makes the options of the collector that the configuration asks for.
func (c config) collector(logger *slog.Logger) (collector.Options, error) {
	homes, err := readHomes(c.Homes)
	if err != nil {
		return collector.Options{}, err
	}
	password := ""
	if c.Broker.PasswordFile != "" {
		b, err := os.ReadFile(c.Broker.PasswordFile)
		if err != nil {
			return collector.Options{}, err
		}
		password = strings.TrimSpace(string(b))
	}
	return collector.Options{
		Dir: c.Data, Homes: homes, Adapters: c.Adapters, Retention: c.Retention, Window: c.Window, Logger: logger,
		Broker: collector.BrokerOptions{Listen: c.Broker.Listen, Users: c.Broker.Users, URL: c.Broker.URL,
			ClientID: c.Broker.ClientID, Username: c.Broker.Username, Password: password},
	}, nil
}
