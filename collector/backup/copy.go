package backup

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"brinebell/collector/series"
	"brinebell/collector/state"
)

// Snapshotter is a series store that can be copied while it is used.
type Snapshotter interface {
	Snapshot(ctx context.Context, dir string) error
}

var _ Snapshotter = (*series.TSDB)(nil)

// Make writes the archive of the stores in a data folder. store is the open series
// store; readings are left out when it is no Snapshotter.
func Make(ctx context.Context, out io.Writer, data string, store series.Store, made time.Time, program string) (m Manifest, err error) {
	dir, err := os.MkdirTemp(data, "backup-")
	if err != nil {
		return m, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	if err := state.Copy(ctx, filepath.Join(data, StateFile), filepath.Join(dir, StateFile)); err != nil {
		return m, err
	}
	if s, ok := store.(Snapshotter); ok {
		if err := s.Snapshot(ctx, filepath.Join(dir, SeriesDir)); err != nil {
			return m, err
		}
	}
	return Write(ctx, out, dir, made, program)
}

// Check looks through restored stores and says what is wrong with them.
func Check(ctx context.Context, dir string) error {
	problems, err := state.Check(ctx, filepath.Join(dir, StateFile))
	if err != nil {
		return err
	}
	if len(problems) > 0 {
		return fmt.Errorf("%w: the state store: %s", ErrBroken, problems[0])
	}
	c, err := series.Check(ctx, filepath.Join(dir, SeriesDir), nil)
	if err != nil {
		return err
	}
	if len(c.Damage) > 0 {
		return fmt.Errorf("%w: the series store: %v", ErrBroken, c.Damage[0])
	}
	return nil
}
