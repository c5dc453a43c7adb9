package spool

import (
	"errors"
	"fmt"
	"hash/fnv"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"brinebell/detect"
)

// file is what a segment is written through.
type file interface {
	io.Writer
	Sync() error
	Truncate(size int64) error
	Close() error
}

// unflushed is a file that is never flushed.
type unflushed struct{ file }

func (unflushed) Sync() error { return nil }

func createFile(path string) (file, error) {
	return os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY|os.O_APPEND, 0o640)
}

// segment is a file of frames and what is known of its contents without reading
// it.
type segment struct {
	number uint64
	path   string
	size   int64 // bytes that are flushed and sound
	gaps   []gap // of damage, in order
	about  about
}

// gap is damage within a segment, to be passed over.
type gap struct{ from, to int64 }

// gapAt says whether an offset is where damage begins, and where that ends.
func (s *segment) gapAt(offset int64) (end int64, in bool) {
	for _, g := range s.gaps {
		if g.from == offset {
			return g.to, true
		}
	}
	return 0, false
}

// about says what readings may be among some: it can only be wrong by saying
// yes.
type about struct {
	readings         int
	earliest, latest time.Time
	homes            [64]uint64 // a bit of each home's hash
}

func bit(home string) (word, mask uint64) {
	h := fnv.New64a()
	_, _ = h.Write([]byte(home)) // it cannot fail
	sum := h.Sum64()
	return sum >> 6 % 64, 1 << (sum % 64)
}

func (a *about) add(r detect.Reading) {
	if a.readings == 0 || r.Time.Before(a.earliest) {
		a.earliest = r.Time
	}
	if a.readings == 0 || r.Time.After(a.latest) {
		a.latest = r.Time
	}
	a.readings++
	word, mask := bit(r.Home)
	a.homes[word] |= mask
}

func (a *about) merge(b about) {
	if b.readings == 0 {
		return
	}
	if a.readings == 0 || b.earliest.Before(a.earliest) {
		a.earliest = b.earliest
	}
	if a.readings == 0 || b.latest.After(a.latest) {
		a.latest = b.latest
	}
	a.readings += b.readings
	for i, w := range b.homes {
		a.homes[i] |= w
	}
}

// mayHold says whether readings of a home in from <= time < to can be there.
func (a *about) mayHold(home string, from, to time.Time) bool {
	word, mask := bit(home)
	return a.readings > 0 && a.homes[word]&mask != 0 && a.earliest.Before(to) && !a.latest.Before(from)
}

const segmentSuffix = ".spool"

func segmentPath(dir string, number uint64) string {
	return filepath.Join(dir, fmt.Sprintf("%012d%s", number, segmentSuffix))
}

// listSegments finds the numbers of the segments in a folder, in order.
func listSegments(dir string) (numbers []uint64, err error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		name, ok := strings.CutSuffix(e.Name(), segmentSuffix)
		if number, err := strconv.ParseUint(name, 10, 64); ok && err == nil {
			numbers = append(numbers, number)
		}
	}
	slices.Sort(numbers)
	return numbers, nil
}

// syncDir makes the names in a folder durable.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

func remove(path string) error {
	if err := os.Remove(path); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}
