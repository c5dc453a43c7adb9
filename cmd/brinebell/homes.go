package main

import (
	"fmt"
	"io"
	"os"

	"brinebell/detect"
)

// readHomes reads a homes file named on the command line. note is told of what
// was perhaps not meant.
func readHomes(path string, note func(string)) ([]detect.Home, error) {
	f, err := os.Open(path) // #nosec G304 -- the path is given by whoever runs the command or the service
	if err != nil {
		return nil, inputError{err}
	}
	defer f.Close()
	homes, err := detect.ReadHomesNoting(path, f, note)
	if err != nil {
		return nil, inputError{err}
	}
	return homes, nil
}

// noteTo writes notes to a terminal or wherever complaints go.
func noteTo(out io.Writer) func(string) {
	return func(note string) { fmt.Fprintln(out, "note:", note) }
}
