package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"brinebell/collector/backup"
	"brinebell/collector/series"
)

func backupCommand(s streams) *cobra.Command {
	var config string
	cmd := &cobra.Command{
		Use:   "backup --config FILE BACKUP.tar",
		Short: "Copy all that is stored into one file, also while \"brinebell serve\" runs",
		Long: `Copies readings, alerts, books and everything else that is stored into one file,
also while "brinebell serve" runs with the same configuration. The file is read
again and checked before it gets its name; an existing file is not overwritten.

Readings in an InfluxDB are not in it: back that up with its own tools. Readings
that wait in the spool are not in it either, as they are on their way there.`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			conf, err := commandConfig(c, config)
			if err != nil {
				return err
			}
			m, err := makeBackup(c.Context(), conf, args[0])
			if err != nil {
				return err
			}
			fmt.Fprintf(s.out, "%s: %d files, %s%s\n", args[0], len(m.Files), roughly(m.Bytes()), withoutReadings(m))
			return nil
		},
	}
	cmd.Flags().StringVar(&config, "config", "", "configuration of \"brinebell serve\" (required)")
	_ = cmd.MarkFlagFilename("config", "yaml", "yml") // the flag was defined above
	return cmd
}

func withoutReadings(m backup.Manifest) string {
	if m.Readings {
		return ""
	}
	return "; the readings are in the InfluxDB, which has a backup of its own"
}

// commandConfig reads the configuration that a command was given.
func commandConfig(c *cobra.Command, path string) (config, error) {
	if path == "" {
		return config{}, usage(c, errors.New("--config is required: the configuration file"))
	}
	conf, err := readConfig(path)
	if err != nil {
		return conf, inputError{err}
	}
	return conf, nil
}

// makeBackup writes a backup beside its place, checks it and puts it there.
func makeBackup(ctx context.Context, conf config, path string) (m backup.Manifest, err error) {
	if _, err := os.Stat(path); err == nil {
		return m, inputError{fmt.Errorf("%s is there already, and nothing is overwritten", path)}
	}
	part, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".part-")
	if err != nil {
		return m, inputError{err}
	}
	defer func() { _ = os.Remove(part.Name()) }() // gone when all went well
	err = fillBackup(ctx, conf, part)
	if err == nil {
		_, err = part.Seek(0, io.SeekStart)
	}
	if err == nil {
		m, err = backup.Verify(ctx, part)
	}
	if err := errors.Join(err, part.Sync(), part.Close()); err != nil {
		return m, err
	}
	return m, os.Rename(part.Name(), path)
}

// fillBackup has the running service make it, or makes it where none runs.
func fillBackup(ctx context.Context, conf config, out io.Writer) error {
	answer, err := askRunning(ctx, conf.Data, "/backup")
	if errors.Is(err, errNotRunning) {
		return backupOfClosed(ctx, conf, out)
	}
	if err != nil {
		return err
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		return fmt.Errorf("the running service answers %s", answer.Status)
	}
	_, err = io.Copy(out, answer.Body)
	return err
}

// backupOfClosed makes a backup of stores that nobody uses.
func backupOfClosed(ctx context.Context, conf config, out io.Writer) (err error) {
	if _, err := os.Stat(filepath.Join(conf.Data, backup.StateFile)); err != nil {
		return inputError{fmt.Errorf("nothing is stored in %s", conf.Data)}
	}
	unlock, err := lockFolder(conf.Data)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, unlock()) }()
	var store series.Store
	if conf.Series.Influx.URL == "" {
		s, err := series.Open(series.Options{Dir: filepath.Join(conf.Data, backup.SeriesDir), Window: time.Duration(conf.Window), Retention: time.Duration(conf.Retention)})
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, s.Close()) }()
		store = s
	}
	_, err = backup.Make(ctx, out, conf.Data, store, time.Now(), version)
	return err
}

func restoreCommand(s streams) *cobra.Command {
	var config string
	cmd := &cobra.Command{
		Use:   "restore --config FILE BACKUP.tar",
		Short: "Put what a backup holds into an empty data folder",
		Long: `Puts what a backup holds into the data folder of the configuration, which must be
empty or not there yet: nothing is overwritten. The backup and what comes out of
it are checked whole before the folder gets its name.`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			conf, err := commandConfig(c, config)
			if err != nil {
				return err
			}
			m, err := restore(c.Context(), conf.Data, args[0])
			if err != nil {
				return err
			}
			fmt.Fprintf(s.out, "%s: %d files, %s, as of %s%s\n", conf.Data, len(m.Files), roughly(m.Bytes()), m.Made.Format(time.RFC3339), withoutReadings(m))
			return nil
		},
	}
	cmd.Flags().StringVar(&config, "config", "", "configuration of \"brinebell serve\" (required)")
	_ = cmd.MarkFlagFilename("config", "yaml", "yml") // the flag was defined above
	return cmd
}

func restore(ctx context.Context, data, path string) (m backup.Manifest, err error) {
	f, err := os.Open(path) // #nosec G304 -- the path is given by whoever runs the command or the service
	if err != nil {
		return m, inputError{err}
	}
	defer f.Close()
	m, err = backup.Restore(ctx, f, data, backup.Check)
	if errors.Is(err, backup.ErrNotEmpty) || errors.Is(err, backup.ErrBroken) {
		return m, inputError{err}
	}
	return m, err
}

// roughly is a number of bytes for a person.
func roughly(n int64) string {
	for _, u := range sizeUnits {
		if u.bytes%1000 == 0 && n >= u.bytes {
			return fmt.Sprintf("%.3g %s", float64(n)/float64(u.bytes), u.name)
		}
	}
	return fmt.Sprintf("%d B", n)
}
