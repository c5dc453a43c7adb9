package spool

import (
	"errors"
	"fmt"
	"sync"
	"time"
)

// position is a place in the journal.
type position struct {
	segment uint64
	offset  int64
}

// journal is the spool's files: frames are appended at one end and taken at the
// other.
type journal struct {
	dir         string
	limit       int64
	segmentSize int64 // at which a new segment is begun
	create      func(path string) (file, error)
	grew        chan struct{} // holds a value after frames were appended

	// writing is held while frames are written; guards file, next and groups'
	// done and err. Taken before mu.
	writing sync.Mutex
	file    file   // of the last segment; nil when the next write begins a new one
	next    uint64 // number of the next segment

	mu       sync.Mutex // guards all below
	segments []*segment // oldest first
	done     position   // up to where all was taken; in segments[0] if there is any
	pending  int64      // bytes of frames that wait
	waiting  int64      // readings that wait
	group    *group     // frames to be written next
	oldest   time.Time  // when the oldest batch that waits came
	erased   erasures
}

// group is the frames of appends that are written and flushed together.
type group struct {
	frames  []byte
	about   about
	came    time.Time
	written bool
	err     error
}

// append makes a batch durable.
func (j *journal) append(b batch) error {
	g, err := j.join(b)
	if err != nil {
		return err
	}
	j.writing.Lock() // whoever comes first writes for all who have joined
	defer j.writing.Unlock()
	if !g.written {
		j.mu.Lock()
		j.group = nil // it is g: a group is joined until it is written
		j.mu.Unlock()
		g.err = j.write(g)
		g.written = true
	}
	return g.err
}

// join adds a batch to the group that is written next, if there is room.
func (j *journal) join(b batch) (*group, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	g := j.group
	if g == nil {
		g = &group{came: b.came}
	}
	before := len(g.frames)
	frames := appendFrame(g.frames, b)
	if j.pending+int64(len(frames)) > j.limit {
		return nil, fmt.Errorf("%w: %d of %d bytes wait for the store", ErrFull, j.pending+int64(before), j.limit)
	}
	g.frames = frames
	for _, r := range b.readings {
		g.about.add(r)
	}
	j.group = g
	return g, nil
}

// write writes a group's frames and flushes them. Called with writing held.
func (j *journal) write(g *group) error {
	s, err := j.last(int64(len(g.frames)))
	if err != nil {
		return fmt.Errorf("spool: %w", err)
	}
	_, err = j.file.Write(g.frames)
	if err == nil {
		err = j.file.Sync()
	}
	if err != nil {
		// What of it is on the disk cannot be known. Take it back as well as can
		// be, and go on in a new segment: what is left of a frame at the end of a
		// segment is found by its checksum.
		return errors.Join(fmt.Errorf("spool: %w", err), j.file.Truncate(s.size), j.endSegment(), j.forgetEmpty(s))
	}
	j.mu.Lock()
	defer j.mu.Unlock()
	s.size += int64(len(g.frames))
	s.about.merge(g.about)
	if j.waiting == 0 {
		j.oldest = g.came
	}
	j.pending += int64(len(g.frames))
	j.waiting += int64(g.about.readings)
	j.wake()
	return nil
}

// wake says that there is something to take.
func (j *journal) wake() {
	select {
	case j.grew <- struct{}{}:
	default: // it was said already
	}
}

// last is the segment to write n bytes to. Called with writing held.
func (j *journal) last(n int64) (*segment, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.file != nil {
		if s := j.segments[len(j.segments)-1]; s.size == 0 || s.size+n <= j.segmentSize {
			return s, nil
		}
		if err := j.endSegment(); err != nil {
			return nil, err
		}
	}
	s := &segment{number: j.next, path: segmentPath(j.dir, j.next)}
	f, err := j.create(s.path)
	if err != nil {
		return nil, err
	}
	j.next++
	if err := syncDir(j.dir); err != nil {
		return nil, errors.Join(err, f.Close(), remove(s.path))
	}
	j.file = f
	if len(j.segments) == 0 {
		j.done = position{s.number, 0}
	}
	j.segments = append(j.segments, s)
	return s, nil
}

// endSegment lets the next write begin a new segment. Called with writing held.
func (j *journal) endSegment() error {
	f := j.file
	j.file = nil
	return f.Close()
}

// forgetEmpty drops the last segment if nothing is in it, so that a full disk
// does not fill with empty files.
func (j *journal) forgetEmpty(s *segment) error {
	j.mu.Lock()
	defer j.mu.Unlock()
	if s.size > 0 || j.segments[len(j.segments)-1] != s {
		return nil
	}
	j.segments = j.segments[:len(j.segments)-1]
	return remove(s.path)
}

// close ends writing.
func (j *journal) close() error {
	j.writing.Lock()
	defer j.writing.Unlock()
	if j.file == nil {
		return nil
	}
	return j.endSegment()
}
