package series

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"

	"github.com/oklog/ulid/v2"
	"github.com/prometheus/prometheus/model/labels"
	"github.com/prometheus/prometheus/tsdb"
	"github.com/prometheus/prometheus/tsdb/chunks"
	"github.com/prometheus/prometheus/tsdb/index"
	"github.com/prometheus/prometheus/tsdb/wlog"
)

// Damage is something of the embedded store that cannot be read.
type Damage struct {
	Part string // the block's or log's name
	Err  error
	// Torn says that it is the end of a log that a crash has cut off: what
	// follows was never acknowledged.
	Torn bool
}

// String says what and why.
func (d Damage) String() string { return fmt.Sprintf("%s: %v", d.Part, d.Err) }

// Checked is what Check came upon.
type Checked struct {
	Blocks, Samples int // of readings; sums are checked and not counted among Samples
	Damage          []Damage
}

// Check reads every block and log of the embedded store in a folder and holds
// them against their checksums, also while it is used. shown is told before each
// block, and may be nil.
func Check(ctx context.Context, dir string, shown func(done, of int)) (c Checked, err error) {
	sums, err := filepath.Glob(filepath.Join(dir, SumsDir, "*"))
	if err != nil {
		return c, err
	}
	var blocks []string
	for _, d := range append([]string{dir}, sums...) {
		some, err := blockDirs(d)
		if err != nil {
			return c, err
		}
		blocks = append(blocks, some...)
		if err := c.logs(d); err != nil {
			return c, err
		}
	}
	for i, block := range blocks {
		if shown != nil {
			shown(i, len(blocks))
		}
		if err := c.block(ctx, block, filepath.Dir(block) == filepath.Clean(dir)); err != nil {
			return c, err
		}
	}
	return c, nil
}

// block checks a block; readings says whether it holds these and not sums.
func (c *Checked) block(ctx context.Context, block string, readings bool) error {
	samples, err := checkBlock(ctx, block)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if _, gone := os.Stat(block); errors.Is(gone, fs.ErrNotExist) {
		return nil // merged with others meanwhile
	}
	c.Blocks++
	if readings {
		c.Samples += samples
	}
	if err != nil {
		c.Damage = append(c.Damage, Damage{Part: filepath.Base(block), Err: err})
	}
	return nil
}

func (c *Checked) logs(dir string) error {
	for _, log := range []string{"wal", "wbl"} {
		d, err := checkLog(filepath.Join(dir, log))
		if err != nil {
			return err
		}
		if d != nil {
			c.Damage = append(c.Damage, *d)
		}
	}
	return nil
}

// blockDirs are the folders of a store's blocks; none if there is no store.
func blockDirs(dir string) (dirs []string, err error) {
	entries, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	for _, e := range entries {
		if _, err := ulid.ParseStrict(e.Name()); e.IsDir() && err == nil {
			dirs = append(dirs, filepath.Join(dir, e.Name()))
		}
	}
	return dirs, nil
}

// checkBlock reads all of a block; the library compares checksums as it reads.
func checkBlock(ctx context.Context, dir string) (samples int, err error) {
	b, err := tsdb.OpenBlock(nil, dir, nil, nil)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	ir, err := b.Index()
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, ir.Close()) }()
	cr, err := b.Chunks()
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, cr.Close()) }()
	samples, err = readChunks(ctx, ir, cr)
	if want := int(b.Meta().Stats.NumSamples); err == nil && samples != want {
		return samples, fmt.Errorf("it holds %d readings, and %d were written", samples, want)
	}
	return samples, err
}

func readChunks(ctx context.Context, ir tsdb.IndexReader, cr tsdb.ChunkReader) (samples int, err error) {
	name, value := index.AllPostingsKey()
	postings, err := ir.Postings(ctx, name, value)
	if err != nil {
		return 0, err
	}
	var builder labels.ScratchBuilder
	var metas []chunks.Meta
	for postings.Next() {
		if err := ir.Series(postings.At(), &builder, &metas); err != nil {
			return samples, err
		}
		for _, meta := range metas {
			chunk, _, err := cr.ChunkOrIterable(meta)
			if err != nil {
				return samples, err
			}
			samples += chunk.NumSamples()
		}
		if err := ctx.Err(); err != nil {
			return samples, err
		}
	}
	return samples, postings.Err()
}

// checkLog reads a log to its end, or to damage.
func checkLog(dir string) (*Damage, error) {
	segments, err := logSegments(dir)
	if err != nil || len(segments) == 0 {
		return nil, err
	}
	for i, segment := range segments {
		if err := readSegment(filepath.Join(dir, segment), func([]byte) {}); err != nil {
			return &Damage{Part: filepath.Base(dir) + "/" + segment, Err: err, Torn: i == len(segments)-1}, nil
		}
	}
	return nil, nil
}

// logSegments are the names of a log's segments in order; none if there is no
// log.
func logSegments(dir string) (names []string, err error) {
	entries, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	for _, e := range entries {
		if _, err := strconv.Atoi(e.Name()); err == nil && !e.IsDir() {
			names = append(names, e.Name())
		}
	}
	slices.Sort(names)
	return names, nil
}

// readSegment hands each record of a log's segment to do.
func readSegment(path string, do func(record []byte)) error {
	s, err := wlog.OpenReadSegment(path)
	if err != nil {
		return err
	}
	r := wlog.NewReader(io.NopCloser(wlog.NewSegmentBufReader(s)))
	for r.Next() {
		do(r.Record())
	}
	return errors.Join(r.Err(), s.Close())
}
