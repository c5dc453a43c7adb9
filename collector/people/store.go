package people

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"sync"
	"time"

	"brinebell/collector/state"
	"brinebell/detect/care"
)

// Options say what a store works with. DB must be set.
type Options struct {
	DB *state.DB
	// Cost of hashing a password; DefaultCost when zero. Tests lower it.
	Cost Cost
}

// Store keeps people. It may be used by several goroutines.
type Store struct {
	db      *state.DB
	cost    Cost
	hashing chan struct{} // one token for each hash at work, since each takes much memory

	nobodyOnce sync.Mutex // guards nobodyHash
	nobodyHash string     // of a password that nobody has
}

// maxHashing is how many passwords are hashed at once: at the default cost each
// takes 64 MiB.
const maxHashing = 2

// New makes a store of people in the state store.
func New(opts Options) *Store {
	if opts.Cost == (Cost{}) {
		opts.Cost = DefaultCost
	}
	return &Store{db: opts.DB, cost: opts.Cost, hashing: make(chan struct{}, maxHashing)}
}

// now is the time that stamps what is written and against which expiry is held.
func (s *Store) now() time.Time { return s.db.Now() }

// exec runs one statement and says how many rows it changed.
func (s *Store) exec(ctx context.Context, query string, args ...any) (changed int64, err error) {
	err = s.db.Transact(ctx, func(tx *sql.Tx) error {
		result, err := tx.ExecContext(ctx, query, args...)
		if err != nil {
			return err
		}
		changed, err = result.RowsAffected()
		return err
	})
	return changed, err
}

// must is exec, where no row changed means care.ErrNone.
func (s *Store) must(ctx context.Context, query string, args ...any) error {
	changed, err := s.exec(ctx, query, args...)
	if err == nil && changed == 0 {
		return care.ErrNone
	}
	return taken(err)
}

// bad marks an error as about what was given.
func bad(err error) error { return fmt.Errorf("%w: %w", care.ErrBad, err) }

// taken makes a broken uniqueness care.ErrTaken.
func taken(err error) error {
	if err != nil && strings.Contains(err.Error(), "UNIQUE constraint failed") {
		return care.ErrTaken
	}
	return err
}

func stamp(n int64) time.Time {
	if n == 0 {
		return time.Time{}
	}
	return time.Unix(0, n).UTC()
}
