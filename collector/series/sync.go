package series

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
)

// syncer flushes what has been written to the library's logs. The library
// writes out all of a commit before it returns, into numbered segments of two
// logs: wal for readings in order, wbl for late ones. So it is enough to flush
// each log's segments from the last one flushed to the newest. A nil syncer
// does nothing.
type syncer struct {
	logs []*logFlusher
}

// newSyncer flushes the logs of the store in dir.
func newSyncer(dir string) *syncer {
	return &syncer{logs: []*logFlusher{
		{dir: filepath.Join(dir, "wal"), flushFile: (*os.File).Sync},
		{dir: filepath.Join(dir, "wbl"), flushFile: (*os.File).Sync},
	}}
}

func (s *syncer) flush() error {
	if s == nil {
		return nil
	}
	for _, l := range s.logs {
		if err := l.flush(); err != nil {
			return err
		}
	}
	return nil
}

func (s *syncer) close() error {
	if s == nil {
		return nil
	}
	var errs []error
	for _, l := range s.logs {
		errs = append(errs, l.close())
	}
	return errors.Join(errs...)
}

// logFlusher flushes the segments of one log.
type logFlusher struct {
	dir       string
	current   *os.File // the newest segment that was there last time
	number    int
	size      int64                // of current when it was last flushed
	flushFile func(*os.File) error // os.File.Sync, but for tests
}

// flush makes all that the log holds durable. A log without segments has
// nothing to flush.
func (l *logFlusher) flush() error {
	if l.current == nil {
		return l.openNewest()
	}
	if err := l.flushCurrent(); err != nil {
		return err
	}
	for {
		next, err := os.Open(l.segment(l.number + 1))
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil {
			return err
		}
		if err := l.advance(next); err != nil {
			return err
		}
	}
}

// flushCurrent flushes the current segment if it has grown.
func (l *logFlusher) flushCurrent() error {
	info, err := l.current.Stat()
	if err != nil {
		return err
	}
	if info.Size() == l.size {
		return nil
	}
	if err := l.flushFile(l.current); err != nil {
		return err
	}
	l.size = info.Size()
	return nil
}

// advance makes the next segment the current one. The directory is flushed too,
// or the file might be nameless after a power cut.
func (l *logFlusher) advance(next *os.File) error {
	err := l.current.Close()
	l.current, l.number, l.size = next, l.number+1, 0
	return errors.Join(err, l.flushDir(), l.flushCurrent())
}

func (l *logFlusher) flushDir() error {
	d, err := os.Open(l.dir)
	if err != nil {
		return err
	}
	return errors.Join(l.flushFile(d), d.Close())
}

// openNewest flushes every segment, as a new process cannot know what the last
// one flushed, and keeps the newest.
func (l *logFlusher) openNewest() error {
	entries, err := os.ReadDir(l.dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	for _, e := range entries { // sorted by name, and names have leading zeros
		number, err := strconv.Atoi(e.Name())
		if err != nil || e.IsDir() {
			continue // a checkpoint, which the library flushes itself
		}
		if err := l.close(); err != nil {
			return err
		}
		if l.current, err = os.Open(l.segment(number)); err != nil {
			return err
		}
		l.number, l.size = number, 0
		if err := l.flushCurrent(); err != nil {
			return err
		}
	}
	return l.flushDir()
}

func (l *logFlusher) segment(number int) string {
	return filepath.Join(l.dir, fmt.Sprintf("%08d", number))
}

func (l *logFlusher) close() error {
	if l.current == nil {
		return nil
	}
	err := l.current.Close()
	l.current = nil
	return err
}
