package spool

import (
	"fmt"
	"io"
	"os"
	"time"

	"brinebell/detect"
)

// taken is what take gives.
type taken struct {
	readings []detect.Reading
	count    int      // of readings in the frames, those of erased homes too
	to       position // where they end
	bytes    int64    // of their frames
}

// take reads frames from the front until there are some n readings; none when
// nothing waits. Nothing is taken away until advance.
func (j *journal) take(n int) (t taken, err error) {
	s, from, size := j.front()
	erased := j.erasures()
	t.to = from
	if s == nil {
		return t, nil
	}
	var window []byte // of the segment, from offset start on
	start := from.offset
	for t.count < n && t.to.offset < size {
		if end, in := s.gapAt(t.to.offset); in {
			t.to.offset, start, window = end, end, nil
			continue
		}
		payload, length, err := frameAt(window[t.to.offset-start:])
		if err != nil {
			if window, err = moreOf(s.path, window[t.to.offset-start:], t.to.offset, size); err != nil {
				return t, err
			}
			start = t.to.offset
			continue
		}
		after := position{t.to.segment, t.to.offset + int64(length)}
		came, err := decode(payload, func(r detect.Reading) {
			if t.count++; !erased.has(r.Home, after) {
				t.readings = append(t.readings, r)
			}
		})
		if err != nil {
			return t, fmt.Errorf("spool: %s at byte %d: %w", s.path, t.to.offset, err)
		}
		if t.to == from {
			j.noteOldest(came)
		}
		t.to = after
		t.bytes += int64(length)
	}
	return t, nil
}

// window is how much of a segment take reads at first.
const window = 1 << 20

// moreOf reads more of a segment from a frame on than there was, which was too
// little for the frame.
func moreOf(path string, had []byte, from, size int64) ([]byte, error) {
	if int64(len(had)) == size-from { // sound when it was opened or written
		return nil, fmt.Errorf("spool: %s at byte %d: %w", path, from, errFrame)
	}
	return readPart(path, from, min(size, from+max(window, 4*int64(len(had)))))
}

func (j *journal) noteOldest(came time.Time) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.oldest = came
}

// front is the segment that is taken from, after dropping those that are done.
func (j *journal) front() (s *segment, from position, size int64) {
	j.mu.Lock()
	defer j.mu.Unlock()
	for len(j.segments) > 1 && j.done.offset >= j.segments[0].size {
		j.dropFirst()
	}
	if len(j.segments) == 0 {
		return nil, j.done, 0
	}
	s = j.segments[0]
	return s, j.done, s.size
}

// dropFirst deletes the first segment, of which everything was taken. One that
// cannot be deleted is found again at the next start. Called with mu held.
func (j *journal) dropFirst() {
	_ = remove(j.segments[0].path)
	j.segments = j.segments[1:]
	j.done = position{j.segments[0].number, 0}
}

// advance takes away what take gave.
func (j *journal) advance(t taken) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.done = t.to
	j.pending -= t.bytes
	j.waiting -= int64(t.count)
}

// readPart reads from <= offset < to of a file.
func readPart(path string, from, to int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data := make([]byte, to-from)
	if _, err := io.ReadFull(io.NewSectionReader(f, from, to-from), data); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return data, nil
}
