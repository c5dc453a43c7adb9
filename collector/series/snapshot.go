package series

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// Snapshot writes a copy of the store to a folder that is not there yet, while
// the store is used. Everything that was appended before the call is in it, and
// perhaps some of what comes meanwhile. Files that do not change are linked, not
// copied, if the folder is on the same disk.
func (s *TSDB) Snapshot(ctx context.Context, dir string) error {
	// The library's snapshot leaves late readings out that are still in memory.
	if err := s.db.CompactOOOHead(ctx); err != nil {
		return fmt.Errorf("series store: snapshot: %w", err)
	}
	if err := s.db.Snapshot(dir, !s.empty()); err != nil {
		return fmt.Errorf("series store: snapshot: %w", err)
	}
	return s.history.snapshot(ctx, filepath.Join(dir, SumsDir))
}

// snapshot copies the sums. The mark is read first, so that the copy sums up again
// what is summed up meanwhile.
func (h *history) snapshot(ctx context.Context, dir string) error {
	if h == nil {
		return nil
	}
	mark, err := os.ReadFile(filepath.Join(h.dir, markFile))
	if errors.Is(err, fs.ErrNotExist) {
		return nil // there are no sums yet
	}
	if err != nil {
		return err
	}
	levels, err := h.levels()
	if err != nil {
		return err
	}
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, markFile), mark, 0o640); err != nil {
		return err
	}
	for _, l := range levels {
		if err := l.store.Snapshot(ctx, filepath.Join(dir, filepath.Base(l.store.opts.Dir))); err != nil {
			return err
		}
	}
	return nil
}

// empty says whether nothing is in memory.
func (s *TSDB) empty() bool {
	head := s.db.Head()
	return head.NumSeries() == 0 || head.MinTime() > head.MaxTime()
}
