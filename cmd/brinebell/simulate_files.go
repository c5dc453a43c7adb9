package main

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"strings"

	"brinebell/collector/recording"
	"brinebell/detect"
	"brinebell/simulator"
)

// recordSink writes a recording.
type recordSink struct {
	path string
	out  *recording.Writer
}

func openRecord(s streams, path string) (sink, error) {
	k := &recordSink{path: path}
	var err error
	if path == recording.Stdin {
		k.out, err = recording.NewWriter(s.out)
	} else if k.out, err = recording.Create(path); err != nil {
		err = inputError{err}
	}
	return k, err
}

func (k *recordSink) take(_ context.Context, a simulator.Arrival) error {
	return k.out.Write(a.Reading)
}

// close takes away a recording that did not become whole: half of one looks
// like a whole one.
func (k *recordSink) close(ended error) error {
	err := errors.Join(ended, k.out.Close())
	if err != nil {
		discard(k.path)
	}
	return err
}

// discard removes a file that is not whole, but never a device or a pipe.
func discard(path string) {
	if info, err := os.Stat(path); err == nil && info.Mode().IsRegular() {
		_ = os.Remove(path) // the error that led here matters more
	}
}

// writeOut writes a small output whole, to a file or the standard output.
func writeOut(s streams, path string, write func(io.Writer) error) error {
	if path == recording.Stdin {
		return write(s.out)
	}
	f, err := os.Create(path) // #nosec G304 -- the path is given by whoever runs the command or the service
	if err != nil {
		return inputError{err}
	}
	if err := errors.Join(write(f), f.Close()); err != nil {
		discard(path)
		return err
	}
	return nil
}

func homesOf(town *simulator.Town) func(io.Writer) error {
	return func(w io.Writer) error { return simulator.WriteHomes(w, town.Homes()) }
}

func truthOf(town *simulator.Town) func(io.Writer) error {
	return func(w io.Writer) error { return simulator.WriteTruth(w, town.Truth()) }
}

func passwordFrom(path string) (string, error) {
	b, err := os.ReadFile(path) // #nosec G304 -- the path is given by whoever runs the command or the service
	if err != nil {
		return "", inputError{err}
	}
	return strings.TrimSpace(string(b)), nil
}

// profilesOf is each home's profile as a homes file would have it, by id.
func profilesOf(homes []detect.Home) (map[string]string, error) {
	var file bytes.Buffer
	if err := simulator.WriteHomes(&file, homes); err != nil {
		return nil, err
	}
	texts, err := detect.SplitHomes("homes.yaml", &file)
	if err != nil {
		return nil, err
	}
	profiles := make(map[string]string, len(texts))
	for i, text := range texts {
		profiles[homes[i].ID] = text
	}
	return profiles, nil
}
