package main

import (
	"os"

	"brinebell/detect"
)

// readHomes reads a homes file named on the command line.
func readHomes(path string) ([]detect.Home, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, inputError{err}
	}
	defer f.Close()
	homes, err := detect.ReadHomes(path, f)
	if err != nil {
		return nil, inputError{err}
	}
	return homes, nil
}
