package series

import (
	"context"
	"fmt"

	"github.com/prometheus/prometheus/model/labels"
)

// Erase erases every reading of a home. When it returns none can be read any
// more, and the files of finished days no longer hold them; the log of the last
// days does until the library cuts it off, which it does by itself within the
// time a block takes.
func (s *TSDB) Erase(ctx context.Context, home string) error {
	s.append.Lock() // so that no batch keeps a reference to what goes
	defer s.append.Unlock()
	match := labels.MustNewMatcher(labels.MatchEqual, homeLabel, home)
	if err := s.db.Delete(ctx, -everything, everything, match); err != nil {
		return fmt.Errorf("series store: erasing %s: %w", home, err)
	}
	if err := s.db.CleanTombstones(); err != nil {
		return fmt.Errorf("series store: erasing %s: %w", home, err)
	}
	s.forget(home)
	if s.summedUp().IsZero() {
		return nil
	}
	levels, err := s.history.levels()
	if err != nil {
		return err
	}
	for _, l := range levels {
		if err := l.store.Erase(ctx, home); err != nil {
			return err
		}
	}
	return nil
}

func (s *TSDB) forget(home string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for k := range s.series {
		if k.home == home {
			delete(s.series, k)
		}
	}
}
