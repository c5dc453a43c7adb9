package series

import (
	"context"
	"fmt"
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
	return nil
}

// empty says whether nothing is in memory.
func (s *TSDB) empty() bool {
	head := s.db.Head()
	return head.NumSeries() == 0 || head.MinTime() > head.MaxTime()
}
