package replay

import (
	"container/heap"
	"errors"
	"fmt"
	"io"

	"brinebell/collector/recording"
	"brinebell/detect"
)

// errEnd is the end of all files.
var errEnd = errors.New("end")

// merge reads several recordings side by side, oldest reading first.
type merge struct {
	files []*recording.Reader // all, in the order given
	heads []head              // a heap of those not at their end
	known map[string]bool     // homes that a strict replay knows; nil when any may come
}

type head struct {
	file    *recording.Reader
	reading detect.Reading
}

func openMerge(o Options) (*merge, error) {
	m := &merge{known: o.strictHomes()}
	for _, path := range o.Files {
		f, err := recording.Open(path, recording.Options{Strict: o.Strict})
		if err != nil {
			m.close()
			return nil, err
		}
		m.files = append(m.files, f)
	}
	for _, f := range m.files {
		r, err := m.read(f)
		if errors.Is(err, io.EOF) {
			continue
		}
		if err != nil {
			m.close()
			return nil, err
		}
		m.heads = append(m.heads, head{f, r})
	}
	heap.Init(m)
	return m, nil
}

func (m *merge) next() (detect.Reading, error) {
	if len(m.heads) == 0 {
		return detect.Reading{}, errEnd
	}
	top := &m.heads[0]
	r := top.reading
	following, err := m.read(top.file)
	switch {
	case err == nil:
		top.reading = following
		if len(m.heads) > 1 {
			heap.Fix(m, 0)
		}
	case errors.Is(err, io.EOF):
		heap.Pop(m)
	default:
		return r, err
	}
	return r, nil
}

// read is the next reading of a file.
func (m *merge) read(f *recording.Reader) (detect.Reading, error) {
	r, err := f.Next()
	if err == nil && m.known != nil && !m.known[r.Home] {
		err = &recording.BadLine{File: f.Name(), Line: f.Line(), Why: fmt.Sprintf("home %q has no profile in the homes file", r.Home)}
	}
	return r, err
}

func (m *merge) bytes() (n int64) {
	for _, f := range m.files {
		n += f.BytesRead()
	}
	return n
}

// size is of all files together, 0 when one of them is not known.
func (m *merge) size() (n int64) {
	for _, f := range m.files {
		if f.Size() == 0 {
			return 0
		}
		n += f.Size()
	}
	return n
}

func (m *merge) bad() (bad []recording.BadLines) {
	for _, f := range m.files {
		bad = append(bad, f.Bad())
	}
	return bad
}

func (m *merge) close() error {
	var errs []error
	for _, f := range m.files {
		errs = append(errs, f.Close())
	}
	if err := errors.Join(errs...); err != nil {
		return fmt.Errorf("close recordings: %w", err)
	}
	return nil
}

// Len, Less, Swap, Push and Pop make merge a heap of its heads.
func (m *merge) Len() int           { return len(m.heads) }
func (m *merge) Less(i, j int) bool { return m.heads[i].reading.Time.Before(m.heads[j].reading.Time) }
func (m *merge) Swap(i, j int)      { m.heads[i], m.heads[j] = m.heads[j], m.heads[i] }
func (m *merge) Push(x any)         { m.heads = append(m.heads, x.(head)) }
func (m *merge) Pop() any {
	last := m.heads[len(m.heads)-1]
	m.heads = m.heads[:len(m.heads)-1]
	return last
}
