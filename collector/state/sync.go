package state

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
)

// Sync makes everything that has been saved survive the loss of the machine's
// power. Transactions do so by themselves only for the death of the process: the
// log is written, but not flushed, as most of what is saved can be made again
// from the readings. Sync is for what cannot.
func (db *DB) Sync() error {
	if db.log == "" {
		return nil
	}
	f, err := os.Open(db.log)
	if errors.Is(err, fs.ErrNotExist) {
		return nil // all of it was moved into the database, which flushes
	}
	if err != nil {
		return fmt.Errorf("state store: %w", err)
	}
	if err := errors.Join(f.Sync(), f.Close()); err != nil {
		return fmt.Errorf("state store: flush: %w", err)
	}
	return nil
}
