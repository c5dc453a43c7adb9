package series

import (
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"github.com/prometheus/prometheus/tsdb"
)

const (
	// DamagedDir is the folder in the store's where damaged parts are put.
	DamagedDir = "damaged"
	// openMark is there while the store is open: found at the next start, it
	// tells that the store was not closed, and its logs are looked through.
	openMark = "open"
)

// mending makes a store's files such that the library opens them and loses no
// more than it must.
type mending struct {
	dir    string
	logger *slog.Logger
	found  []Damage
	logs   string // copy of the logs as they were, if more than their end is damaged
	cut    bool   // a log's end is torn
}

// mend looks through a store's folder. Blocks are only opened, which reads their
// index and lengths; Check reads all.
func mend(dir string, logger *slog.Logger) (*mending, error) {
	m := &mending{dir: dir, logger: logger}
	blocks, err := blockDirs(dir)
	if err != nil {
		return nil, err
	}
	for _, block := range blocks {
		if err := opens(block); err != nil {
			if err := m.moveAside(block, err); err != nil {
				return nil, err
			}
		}
	}
	if _, err := os.Stat(filepath.Join(dir, openMark)); err == nil {
		if err := m.lookThroughLogs(); err != nil {
			return nil, err
		}
	}
	return m, nil
}

// opens says why a block cannot be opened.
func opens(dir string) error {
	b, err := tsdb.OpenBlock(nil, dir, nil, nil)
	if err != nil {
		return err
	}
	return b.Close()
}

// moveAside takes a block out of the store, which would not open with it.
func (m *mending) moveAside(block string, why error) error {
	to := filepath.Join(m.dir, DamagedDir, filepath.Base(block))
	if err := os.MkdirAll(filepath.Dir(to), 0o750); err != nil {
		return err
	}
	if err := os.Rename(block, to); err != nil {
		return err
	}
	m.found = append(m.found, Damage{Part: filepath.Base(block), Err: why})
	m.logger.Error("a block of the series store is damaged and was moved aside; readings of its time are missing until it is restored from a backup",
		"block", filepath.Base(block), "moved to", to, "error", why)
	return nil
}

// lookThroughLogs keeps a copy of damaged logs: the library will cut them off at
// the first damage, and what is behind it can be rescued from the copy.
func (m *mending) lookThroughLogs() error {
	for _, log := range []string{"wal", "wbl"} {
		d, err := checkLog(filepath.Join(m.dir, log))
		switch {
		case err != nil:
			return err
		case d == nil:
			continue
		case d.Torn:
			m.cut = true
			m.logger.Warn("the end of a log of the series store is cut off, as a power cut leaves it", "part", d.Part)
			continue
		}
		m.cut = true
		m.found = append(m.found, *d)
		m.logger.Error("a log of the series store is damaged; what can be read of it is rescued", "part", d.Part, "error", d.Err)
		if err := m.keepLogs(); err != nil {
			return err
		}
	}
	return nil
}

func (m *mending) keepLogs() error {
	if m.logs != "" {
		return nil
	}
	to := filepath.Join(m.dir, DamagedDir, "logs-"+time.Now().UTC().Format("20060102T150405.000"))
	for _, log := range []string{"wal", "wbl"} {
		from := os.DirFS(filepath.Join(m.dir, log))
		if err := os.CopyFS(filepath.Join(to, log), from); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("no copy of the damaged log can be made: %w", err)
		}
	}
	m.logs = to
	return nil
}

// mark notes that the store is open.
func mark(dir string) error {
	return os.WriteFile(filepath.Join(dir, openMark), nil, 0o640)
}

// unmark notes that it was closed.
func unmark(dir string) error { return os.Remove(filepath.Join(dir, openMark)) }
