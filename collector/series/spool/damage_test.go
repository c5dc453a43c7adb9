package spool

import (
	"context"
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"testing"

	"brinebell/detect"
)

// filled makes a spool's folder with batches in one segment, and says where the
// frames end.
func filled(t *testing.T, batches int) (dir string, ends []int64) {
	t.Helper()
	dir = t.TempDir()
	s := open(t, Options{Dir: dir, Store: &fakeStore{}, NoSync: true})
	for i := range batches {
		add(t, s, minutes("a", i*4, 4))
		ends = append(ends, s.State().Bytes)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return dir, ends
}

func copyOf(t *testing.T, dir string) string {
	t.Helper()
	to := t.TempDir()
	if err := os.CopyFS(to, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	return to
}

// TestCutAnywhere cuts the segment at every byte, as a power cut may: the whole
// frames must be there, in order, and what is appended then too.
func TestCutAnywhere(t *testing.T) {
	dir, ends := filled(t, 4)
	for size := int64(0); size <= ends[3]; size++ {
		torn := copyOf(t, dir)
		if err := os.Truncate(segmentPath(torn, 1), size); err != nil {
			t.Fatal(err)
		}
		whole := 0
		for _, end := range ends {
			if end <= size {
				whole++
			}
		}
		s := open(t, Options{Dir: torn, Store: &fakeStore{}, NoSync: true})
		want := minutes("a", 0, whole*4)
		if got := waiting(t, s, "a"); !slices.Equal(got, want) {
			t.Fatalf("cut at %d: %d readings, want %d", size, len(got), len(want))
		}
		end := int64(0)
		if whole > 0 {
			end = ends[whole-1]
		}
		if s.found.cut != size-end || s.found.damaged != 0 {
			t.Fatalf("cut at %d: reported %+v, want %d cut", size, s.found, size-end)
		}
		add(t, s, minutes("a", 100, 4))
		if got := waiting(t, s, "a"); len(got) != len(want)+4 {
			t.Fatalf("cut at %d: %d readings after one more batch", size, len(got))
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

// TestDamageInTheMiddle flips a byte of the second frame: the others must be
// found, read and handed on, and the damage be said and kept.
func TestDamageInTheMiddle(t *testing.T) {
	dir, ends := filled(t, 4)
	for at := ends[0]; at < ends[1]; at++ {
		bad := copyOf(t, dir)
		data, err := os.ReadFile(segmentPath(bad, 1))
		if err != nil {
			t.Fatal(err)
		}
		data[at] ^= 0x10
		if err := os.WriteFile(segmentPath(bad, 1), data, 0o600); err != nil {
			t.Fatal(err)
		}
		store := &fakeStore{}
		s := open(t, Options{Dir: bad, Store: store, NoSync: true})
		want := append(minutes("a", 0, 4), minutes("a", 8, 8)...)
		if got := waiting(t, s, "a"); !slices.Equal(got, want) {
			t.Fatalf("byte %d: %d readings wait, want %d", at, len(got), len(want))
		}
		drain(t, s)
		if !slices.Equal(store.all(), want) || s.found.damaged != ends[1]-ends[0] || s.State().Bytes != 0 {
			t.Fatalf("byte %d: %d handed on, found %+v, left %+v", at, len(store.all()), s.found, s.State())
		}
		if kept, _ := filepath.Glob(filepath.Join(bad, "damaged-*")); len(kept) != 1 {
			t.Fatalf("byte %d: the damage was not kept", at)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

// faultyFile fails writes and flushes by chance, writing part of the data.
type faultyFile struct {
	file
	random *rand.Rand
	rate   float64
}

func (f *faultyFile) Write(p []byte) (int, error) {
	if f.random.Float64() < f.rate {
		n, _ := f.file.Write(p[:f.random.IntN(len(p))])
		return n, syscall.ENOSPC
	}
	return f.file.Write(p)
}

func (f *faultyFile) Sync() error {
	if f.random.Float64() < f.rate {
		return syscall.EIO
	}
	return nil // what the disk does by itself is not at stake here
}

func (f *faultyFile) Truncate(size int64) error {
	if f.random.Float64() < f.rate {
		return syscall.EIO
	}
	return f.file.Truncate(size)
}

// TestFaultyDisk has a fifth of all writes, flushes and truncations fail. What
// was acknowledged must be there, in order, now and after opening again; what was
// not may be.
func TestFaultyDisk(t *testing.T) {
	for seed := range uint64(10) {
		random := rand.New(rand.NewPCG(seed, 7))
		opts := Options{Dir: t.TempDir(), Store: &fakeStore{}, create: func(path string) (file, error) {
			if random.Float64() < 0.1 {
				return nil, syscall.ENOSPC
			}
			f, err := createFile(path)
			return &faultyFile{f, random, 0.2}, err
		}}
		s := open(t, opts)
		var acknowledged []detect.Reading
		for i := range 100 {
			batch := minutes("a", i*3, 3)
			_, err := s.Append(context.Background(), batch)
			if err == nil {
				acknowledged = append(acknowledged, batch...)
			} else if !errors.Is(err, syscall.ENOSPC) && !errors.Is(err, syscall.EIO) {
				t.Fatal(err)
			}
		}
		if got := waiting(t, s, "a"); !slices.Equal(got, acknowledged) {
			t.Fatalf("seed %d: %d readings wait, want the %d acknowledged", seed, len(got), len(acknowledged))
		}
		_ = s.Close()
		opts.create = nil
		again := open(t, opts)
		got := waiting(t, again, "a")
		if !inOrder(acknowledged, got) || again.found.damaged != 0 {
			t.Fatalf("seed %d: acknowledged readings are missing after opening again (%+v)", seed, again.found)
		}
		_ = again.Close()
	}
}

// inOrder says whether all of some are among others, in the same order.
func inOrder(some, others []detect.Reading) bool {
	for _, r := range others {
		if len(some) > 0 && r == some[0] {
			some = some[1:]
		}
	}
	return len(some) == 0
}

// powerCut is a disk that knows what was flushed of each file.
type powerCut struct {
	flushed map[string]int64
}

type watchedFile struct {
	file
	path string
	cut  *powerCut
}

func (f watchedFile) Sync() error {
	info, err := os.Stat(f.path)
	if err == nil {
		f.cut.flushed[f.path] = info.Size()
	}
	return errors.Join(err, f.file.Sync())
}

// after is a copy of the folder as it is after the power is gone: of each segment
// what was flushed, and by chance some of the rest.
func (p *powerCut) after(t *testing.T, dir string, random *rand.Rand) string {
	t.Helper()
	to := copyOf(t, dir)
	for path, size := range p.flushed {
		name := filepath.Join(to, filepath.Base(path))
		info, err := os.Stat(name)
		if err != nil {
			continue // done with and deleted
		}
		if extra := info.Size() - size; extra > 0 {
			size += random.Int64N(extra + 1)
		}
		if err := os.Truncate(name, size); err != nil {
			t.Fatal(err)
		}
	}
	return to
}

// TestPowerCut takes what the disk holds at the moment of each acknowledgement:
// all that was acknowledged must be there.
func TestPowerCut(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	cut := &powerCut{map[string]int64{}}
	opts := Options{Dir: t.TempDir(), Store: &fakeStore{}, Limit: minLimit, create: func(path string) (file, error) {
		f, err := createFile(path)
		cut.flushed[path] = 0
		return watchedFile{f, path, cut}, err
	}}
	s := open(t, opts)
	for i := range 40 {
		add(t, s, minutes("a", i*500, 500)) // segments are changed on the way
		after := open(t, Options{Dir: cut.after(t, opts.Dir, random), Store: &fakeStore{}, Limit: minLimit})
		if got := waiting(t, after, "a"); !slices.Equal(got, minutes("a", 0, (i+1)*500)) {
			t.Fatalf("batch %d: %d readings after the cut, want %d", i, len(got), (i+1)*500)
		}
		if err := after.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if len(cut.flushed) < 3 {
		t.Errorf("only %d segments were tried", len(cut.flushed))
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}
