package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/prometheus/prometheus/tsdb/fileutil"
)

// errFolderInUse is a folder of stores that another process works with.
var errFolderInUse = errors.New("in use")

// lockFolder keeps a folder of stores for this process until release, or until
// it dies.
func lockFolder(dir string) (release func() error, err error) {
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return nil, inputError{err}
	}
	path := filepath.Join(dir, "serve.lock")
	lock, _, err := fileutil.Flock(path)
	var file *os.PathError
	if errors.As(err, &file) {
		return nil, inputError{err}
	}
	if err != nil {
		return nil, fmt.Errorf("the folder %s is %w: another brinebell runs with it, and two would spoil each other's books. Stop that one, or give this one another folder", dir, errFolderInUse)
	}
	return lock.Release, nil
}
