package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"brinebell/collector"
	"brinebell/collector/adapter"
	"brinebell/collector/link"
	"brinebell/collector/series"
	"brinebell/detect"
)

// config is the file that "brinebell serve" reads. Paths in it are relative to
// the file. The doc tags are what "brinebell help config" says of the keys.
type config struct {
	Data      string           `yaml:"data" doc:"folder of the stores; made when it is not there"`
	Homes     string           `yaml:"homes" doc:"homes file; see brinebell help homes"`
	Listen    string           `yaml:"listen" doc:"address of the pages"`
	Title     string           `yaml:"title" doc:"what the homes are called together"`
	Retention span             `yaml:"retention" doc:"how long readings are kept"`
	Window    span             `yaml:"late" doc:"how late a reading may come"`
	Series    seriesConfig     `yaml:"series" doc:"where readings are kept"`
	Broker    brokerConfig     `yaml:"broker" doc:"where messages come from: listen or url"`
	Adapters  []adapter.Config `yaml:"adapters" doc:"sensors that do not speak SenML"`
	Accounts  accountsConfig   `yaml:"accounts" doc:"who may come in"`
	Telling   tellingConfig    `yaml:"telling" doc:"how people are told of troubles"`
	Log       logConfig        `yaml:"log" doc:"on standard error"`
}

type brokerConfig struct {
	Listen       string            `yaml:"listen" doc:"address of a broker to run here, as in 0.0.0.0:1883"`
	Users        map[string]string `yaml:"users" doc:"names and passwords of who may publish and read everything at it, as a bridge; devices are added by brinebell devices"`
	Anonymous    bool              `yaml:"anonymous" doc:"true: anyone may publish at it; only where it listens on this machine alone"`
	TLS          brokerTLSConfig   `yaml:"tls" doc:"its side that speaks TLS"`
	URL          string            `yaml:"url" doc:"a broker elsewhere: tcp://, ssl:// or ws:// host:port"`
	ClientID     string            `yaml:"client_id" doc:"names the session there; one collector each"`
	Username     string            `yaml:"username" doc:"name there"`
	PasswordFile string            `yaml:"password_file" doc:"file with the password there"`
}

type logConfig struct {
	Level  logLevel `yaml:"level" doc:"debug, info, warn or error"`
	Format string   `yaml:"format" doc:"text or json"`
}

// defaultListen keeps the pages on this machine until somebody decides
// otherwise.
const defaultListen = "127.0.0.1:8480"

// defaultConfig is a configuration in which nothing is said.
func defaultConfig() config {
	return config{Data: "brinebell-data", Homes: "homes.yaml", Listen: defaultListen, Title: "Homes",
		Retention: span(series.DefaultRetention), Window: span(series.DefaultWindow),
		Series: defaultSeriesConfig(), Broker: brokerConfig{ClientID: link.DefaultClientID}, Telling: defaultTellingConfig(), Log: logConfig{Format: "text"}}
}

// readConfig reads a configuration; what is wrong is said with file and line.
func readConfig(path string) (config, error) {
	c := defaultConfig()
	text, err := os.ReadFile(path) // #nosec G304 -- the path is given by whoever runs the command or the service
	if err != nil {
		return c, err
	}
	d := yaml.NewDecoder(bytes.NewReader(text))
	d.KnownFields(true)
	if err := d.Decode(&c); err != nil && !errors.Is(err, io.EOF) {
		return c, plainYAML(path, err, keysByType(reflect.TypeFor[config]()))
	}
	if err := c.validate(); err != nil {
		return c, inFile(path, err)
	}
	dir := filepath.Dir(path)
	for _, p := range append(c.Series.paths(), &c.Data, &c.Homes, &c.Broker.PasswordFile, &c.Broker.TLS.Certificate, &c.Broker.TLS.Key, &c.Broker.TLS.Authority, &c.Telling.Mail.PasswordFile) {
		if *p != "" && !filepath.IsAbs(*p) {
			*p = filepath.Join(dir, *p)
		}
	}
	return c, nil
}

func (c config) validate() error {
	var errs []error
	if (c.Broker.Listen == "" && c.Broker.TLS.Listen == "") == (c.Broker.URL == "") {
		errs = append(errs, errors.New("broker: give either listen, for the embedded broker, or url, for another"))
	}
	errs = append(errs, checkListen("listen", c.Listen), checkListen("broker.listen", c.Broker.Listen), checkListen("broker.tls.listen", c.Broker.TLS.Listen), checkBrokerURL(c.Broker.URL),
		c.Broker.validateAccess(), c.Accounts.validate(c.Listen))
	if c.Retention < c.Window {
		errs = append(errs, fmt.Errorf("retention: %v is less than late, %v: a reading that comes so late could not be kept", c.Retention, c.Window))
	}
	if c.Log.Format != "text" && c.Log.Format != "json" {
		errs = append(errs, fmt.Errorf("log.format: %q: use text or json", c.Log.Format))
	}
	errs = append(errs, c.Series.validate(), c.Telling.validate())
	for i, a := range c.Adapters {
		if _, err := adapter.New(a); err != nil {
			errs = append(errs, fmt.Errorf("adapters[%d]: %w", i, err))
		}
	}
	return errors.Join(errs...)
}

func (c config) logger(out io.Writer) *slog.Logger {
	o := &slog.HandlerOptions{Level: slog.Level(c.Log.Level)}
	if c.Log.Format == "json" {
		return slog.New(slog.NewJSONHandler(out, o))
	}
	return slog.New(slog.NewTextHandler(out, o))
}

// collector makes the options of the collector that the configuration asks for.
func (c config) collector(logger *slog.Logger) (collector.Options, error) {
	homes, profiles, err := c.readHomes(logger)
	if err != nil {
		return collector.Options{}, err
	}
	password := ""
	if c.Broker.PasswordFile != "" {
		if password, err = readSecret(c.Broker.PasswordFile); err != nil {
			return collector.Options{}, err
		}
	}
	openStore, err := c.openStore(logger)
	if err != nil {
		return collector.Options{}, err
	}
	care, err := c.Telling.care()
	if err != nil {
		return collector.Options{}, err
	}
	o := collector.Options{
		Dir: c.Data, OpenStore: openStore, FiveMinutes: time.Duration(c.Series.FiveMinutes), Hours: time.Duration(c.Series.Hours), Homes: homes, Profiles: profiles, Kept: true, Adapters: c.Adapters, Retention: time.Duration(c.Retention), Window: time.Duration(c.Window), Logger: logger, Care: care,
		Broker: collector.BrokerOptions{Listen: c.Broker.Listen, Users: c.Broker.Users, URL: c.Broker.URL,
			ClientID: c.Broker.ClientID, Username: c.Broker.Username, Password: password},
	}
	return o, c.Broker.access(&o.Broker)
}

// readSecret reads a file that holds a secret alone.
func readSecret(path string) (string, error) {
	b, err := os.ReadFile(path) // #nosec G304 -- the path is given by whoever runs the command or the service
	return strings.TrimSpace(string(b)), err
}

// readHomes reads the homes file, if there is one: homes may all be added while
// running. Profiles are its parts as text, by id.
func (c config) readHomes(logger *slog.Logger) (homes []detect.Home, profiles map[string]string, err error) {
	if _, err := os.Stat(c.Homes); errors.Is(err, fs.ErrNotExist) && filepath.Base(c.Homes) == defaultConfig().Homes {
		return nil, nil, nil
	}
	if homes, err = readHomes(c.Homes, func(note string) { logger.Warn(note) }); err != nil {
		return nil, nil, err
	}
	f, err := os.Open(c.Homes)
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	texts, err := detect.SplitHomes(c.Homes, f)
	if err != nil {
		return nil, nil, err
	}
	profiles = map[string]string{}
	for i, text := range texts {
		profiles[homes[i].ID] = text // both are in the file's order
	}
	return homes, profiles, nil
}
