package spool

import (
	"fmt"
	"os"
	"path/filepath"

	"brinebell/detect"
)

// found is what opening a spool came upon.
type found struct {
	cut     int64 // bytes of half-written frames that were cut off
	damaged int64 // bytes of damaged frames that were moved aside
}

// openJournal opens the files in a folder, cutting off and moving aside what
// cannot be read. Each reading that waits is handed to see.
func openJournal(o Options, see func(detect.Reading)) (*journal, found, error) {
	j := &journal{dir: o.Dir, limit: o.Limit, segmentSize: o.segmentSize(), create: o.create, grew: make(chan struct{}, 1), next: 1}
	var all found
	var err error
	if j.erased, err = readErasures(o.Dir); err != nil {
		return nil, all, err
	}
	numbers, err := listSegments(o.Dir)
	if err != nil {
		return nil, all, err
	}
	done := readPosition(o.Dir)
	for _, number := range numbers {
		j.next = number + 1
		path := segmentPath(o.Dir, number)
		if number < done.segment {
			if err := remove(path); err != nil {
				return nil, all, err
			}
			continue
		}
		from := int64(0)
		if number == done.segment {
			from = done.offset
		}
		f, err := j.openSegment(number, path, from, see)
		if err != nil {
			return nil, all, err
		}
		all.cut += f.cut
		all.damaged += f.damaged
	}
	j.next = max(j.next, done.segment+1) // a position may outlive its segment
	if j.waiting > 0 {
		j.wake()
	}
	return j, all, nil
}

// openSegment goes through a segment's frames from an offset on.
func (j *journal) openSegment(number uint64, path string, from int64, see func(detect.Reading)) (f found, err error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return f, err
	}
	if from > int64(len(data)) { // a position that was not flushed with its segment
		from = 0
	}
	s := &segment{number: number, path: path, size: from}
	for s.size < int64(len(data)) {
		rest := data[s.size:]
		payload, length, err := frameAt(rest)
		if err == nil {
			_, err = decode(payload, func(r detect.Reading) { s.about.add(r); see(r) })
		}
		if err == nil {
			j.pending += int64(length)
			s.size += int64(length)
			continue
		}
		next := nextFrame(rest[1:])
		if next < 0 {
			f.cut += int64(len(rest))
			break
		}
		g := gap{s.size, s.size + 1 + int64(next)}
		if err := setAside(j.dir, number, g, data); err != nil {
			return f, err
		}
		s.gaps = append(s.gaps, g)
		f.damaged += g.to - g.from
		s.size = g.to
	}
	if f.cut > 0 {
		if err := os.Truncate(path, s.size); err != nil {
			return f, err
		}
	}
	if len(j.segments) == 0 {
		j.done = position{number, from}
	}
	j.waiting += int64(s.about.readings)
	j.segments = append(j.segments, s)
	return f, nil
}

// setAside keeps damaged bytes for whoever wants to look at them.
func setAside(dir string, number uint64, g gap, data []byte) error {
	name := fmt.Sprintf("damaged-%012d-%d", number, g.from)
	return os.WriteFile(filepath.Join(dir, name), data[g.from:g.to], 0o640)
}
