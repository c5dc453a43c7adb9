package collector

import (
	"context"
	"io"

	"brinebell/collector/backup"
)

// Backup writes an archive of all that is stored, also while Run runs. program is
// the version that is noted in it.
func (c *Collector) Backup(ctx context.Context, out io.Writer, program string) (backup.Manifest, error) {
	return backup.Make(ctx, out, c.opts.Dir, c.store, c.opts.Clock(), program)
}
