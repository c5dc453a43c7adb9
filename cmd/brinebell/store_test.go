package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"brinebell/collector/influxtest"
	"brinebell/collector/series"
	"brinebell/detect"
)

// storedConfig makes a data folder with some days of readings, and its
// configuration.
func storedConfig(t *testing.T, more string) (config string, readings int) {
	t.Helper()
	dir := t.TempDir()
	write := func(name, text string) {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write("homes.yaml", "homes:\n  - id: mill-lane-4\n    timezone: Europe/Dublin\n    meters: {inlet: {pulse: 0.1 L}}\n")
	write("config.yaml", "data: data\nlisten: 127.0.0.1:0\nbroker: {listen: \"127.0.0.1:0\"}\n"+more)
	s, err := series.Open(series.Options{Dir: filepath.Join(dir, "data", "series"), NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	start := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	var batch []detect.Reading
	for i := range 5 * 288 {
		batch = append(batch, detect.Reading{Home: "mill-lane-4", Signal: detect.InletVolume, Time: start.Add(time.Duration(i) * 5 * time.Minute), Value: float64(i) / 3})
	}
	if _, err := s.Append(context.Background(), batch); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(s.Compact(context.Background()), s.Close()); err != nil {
		t.Fatal(err)
	}
	return filepath.Join(dir, "config.yaml"), len(batch)
}

// serving runs the service of a configuration until the returned function is
// called.
func serving(t *testing.T, path string) (stop func()) {
	t.Helper()
	conf, err := readConfig(path)
	if err != nil {
		t.Fatal(err)
	}
	o, err := conf.collector(slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	s, err := openService(context.Background(), serviceOptions{collector: o, listen: conf.Listen, title: "x"})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- s.Run(ctx) }()
	return func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
}

// say runs the program and gives what it says.
func say(t *testing.T, want int, args ...string) string {
	t.Helper()
	var out, errOut bytes.Buffer
	if code := run(context.Background(), args, nil, &out, &errOut); code != want {
		t.Fatalf("%v: exit %d, want %d: %s%s", args, code, want, &out, &errOut)
	}
	return out.String() + errOut.String()
}

// TestBackupAndRestore backs a running service up, and a closed one, and restores
// each elsewhere.
func TestBackupAndRestore(t *testing.T) {
	config, n := storedConfig(t, "")
	stop := serving(t, config)
	running := filepath.Join(t.TempDir(), "running.tar")
	say(t, exitDone, "backup", "--config", config, running)
	if got := say(t, exitUsage, "backup", "--config", config, running); !strings.Contains(got, "nothing is overwritten") {
		t.Error(got)
	}
	if got := say(t, exitDone, "store", "check", "--config", config); !strings.Contains(got, "state.db     sound") {
		t.Error(got)
	}
	stop()
	closed := filepath.Join(t.TempDir(), "closed.tar")
	say(t, exitDone, "backup", "--config", config, closed)
	if got := say(t, exitUsage, "restore", "--config", config, closed); !strings.Contains(got, "not empty") {
		t.Error(got)
	}
	for _, archive := range []string{running, closed} {
		elsewhere := filepath.Join(t.TempDir(), "config.yaml")
		text, err := os.ReadFile(config)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(elsewhere, text, 0o600); err != nil {
			t.Fatal(err)
		}
		say(t, exitDone, "restore", "--config", elsewhere, archive)
		if got := say(t, exitDone, "store", "check", "--config", elsewhere); !strings.Contains(got, fmt.Sprintf("sound; %d readings", n)) {
			t.Error(got)
		}
	}
}

// TestCheckFindsDamage turns a byte of the readings.
func TestCheckFindsDamage(t *testing.T) {
	config, _ := storedConfig(t, "")
	serving(t, config)() // makes the state store
	chunks, err := filepath.Glob(filepath.Join(filepath.Dir(config), "data", "series", "01*", "chunks", "000001"))
	if err != nil || len(chunks) == 0 {
		t.Fatal(chunks, err)
	}
	data, err := os.ReadFile(chunks[0])
	if err != nil {
		t.Fatal(err)
	}
	data[len(data)/2] ^= 1
	if err := os.WriteFile(chunks[0], data, 0o600); err != nil {
		t.Fatal(err)
	}
	got := say(t, exitFail, "store", "check", "--config", config)
	if !strings.Contains(got, "1 damaged parts") || !strings.Contains(got, "brinebell restore") {
		t.Error(got)
	}
}

// TestStoreSetupAndCopy sets a real server up and copies there and back.
func TestStoreSetupAndCopy(t *testing.T) {
	server := influxtest.Start(t)
	influx := "series: {influx: {url: \"" + server.URL + "\", bucket: homes/autogen}}\n"
	config, n := storedConfig(t, influx)
	if got := say(t, exitDone, "store", "setup", "--config", config, "--dry-run"); strings.Count(got, "would ") != 6 {
		t.Error(got)
	}
	if got := say(t, exitDone, "store", "setup", "--config", config); strings.Count(got, "done: ") != 6 {
		t.Error(got)
	}
	if got := say(t, exitDone, "store", "setup", "--config", config); !strings.Contains(got, "has everything") {
		t.Error(got)
	}
	want := fmt.Sprintf("%d readings copied", n)
	if got := say(t, exitDone, "store", "copy", "--config", config, "--from", "embedded", "--to", "influx"); !strings.Contains(got, want) {
		t.Error(got)
	}
	elsewhere, _ := storedConfig(t, influx)
	if err := os.RemoveAll(filepath.Join(filepath.Dir(elsewhere), "data")); err != nil {
		t.Fatal(err)
	}
	if got := say(t, exitDone, "store", "copy", "--config", elsewhere, "--from", "influx", "--to", "embedded"); !strings.Contains(got, want) {
		t.Error(got)
	}
	say(t, exitUsage, "store", "copy", "--config", elsewhere, "--from", "influx", "--to", "influx")
}
