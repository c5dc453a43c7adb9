package spool

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"brinebell/detect"
)

// erasedFile notes which homes were erased.
const erasedFile = "erased.json"

// erasures are the homes that were erased, each with where the spool ended then:
// what came before is neither read nor handed on any more.
type erasures map[string]position

// eraser is a store that can erase a home.
type eraser interface {
	Erase(ctx context.Context, home string) error
}

// Erase erases every reading of a home, in the store and of what waits for it. What
// waits stays in the spool's files until they are done with, but is never read.
func (s *Spool) Erase(ctx context.Context, home string) error {
	e, ok := s.opts.Store.(eraser)
	if !ok {
		return errors.New("the series store cannot erase a home")
	}
	s.handing.Lock()
	defer s.handing.Unlock()
	if err := s.journal.erase(home); err != nil {
		return fmt.Errorf("spool: erasing %s: %w", home, err)
	}
	s.mu.Lock()
	for k := range s.newest {
		if k.home == home {
			delete(s.newest, k)
		}
	}
	s.mu.Unlock()
	return e.Erase(ctx, home)
}

// erase notes that all there is of a home is erased.
func (j *journal) erase(home string) error {
	j.writing.Lock()
	defer j.writing.Unlock()
	j.mu.Lock()
	defer j.mu.Unlock()
	end := j.done
	if n := len(j.segments); n > 0 {
		end = position{j.segments[n-1].number, j.segments[n-1].size}
	}
	next := erasures{home: end}
	for h, p := range j.erased {
		if h != home && !p.before(j.done) { // one that is done with is forgotten
			next[h] = p
		}
	}
	if err := next.save(j.dir); err != nil {
		return err
	}
	j.erased = next
	return nil
}

func (p position) before(q position) bool {
	return p.segment < q.segment || p.segment == q.segment && p.offset <= q.offset
}

// has says whether what ends at a position is of an erased home.
func (e erasures) has(home string, end position) bool {
	until, ok := e[home]
	return ok && end.before(until)
}

// erasures are those of now; they are not changed in place.
func (j *journal) erasures() erasures {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.erased
}

// withoutErased are the readings that were taken but those of homes erased since.
func (j *journal) withoutErased(t taken) []detect.Reading {
	erased := j.erasures()
	gone := func(r detect.Reading) bool { return erased.has(r.Home, t.to) }
	if !slices.ContainsFunc(t.readings, gone) {
		return t.readings
	}
	return slices.DeleteFunc(slices.Clone(t.readings), gone)
}

// erasureJSON is an erasure in its file.
type erasureJSON struct {
	Segment uint64 `json:"segment"`
	Offset  int64  `json:"offset"`
}

func (e erasures) save(dir string) error {
	out := map[string]erasureJSON{}
	for home, p := range e {
		out[home] = erasureJSON{p.segment, p.offset}
	}
	text, err := json.Marshal(out)
	if err != nil {
		return err
	}
	path := filepath.Join(dir, erasedFile)
	f, err := os.Create(path + ".new")
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	return errors.Join(os.Rename(path+".new", path), syncDir(dir))
}

func readErasures(dir string) (erasures, error) {
	text, err := os.ReadFile(filepath.Join(dir, erasedFile))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	in := map[string]erasureJSON{}
	if err := json.Unmarshal(text, &in); err != nil {
		return nil, fmt.Errorf("%s: %w", erasedFile, err)
	}
	e := erasures{}
	for home, p := range in {
		e[home] = position{p.Segment, p.Offset}
	}
	return e, nil
}
