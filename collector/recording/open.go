package recording

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"

	"github.com/klauspost/compress/gzip"
)

// Stdin is the path that stands for the standard input.
const Stdin = "-"

// ErrNotRecording means that the beginning of a file is of neither form.
var ErrNotRecording = errors.New("not a recording: the first line must be time,home,signal,value or a SenML pack")

// readAhead is the size of one read of the file.
const readAhead = 1 << 18

// Open opens the recording at path, or the standard input for "-". Whether it
// is gzipped is seen from its content, the form from its name (.senml, .jsonl,
// .ndjson and .json are SenML) or else its content.
func Open(path string, opts Options) (*Reader, error) {
	if path == Stdin {
		return NewReader("stdin", os.Stdin, opts)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	r, err := NewReader(path, f, opts)
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	r.close = append(r.close, f)
	if info, err := f.Stat(); err == nil && info.Mode().IsRegular() {
		r.size = info.Size()
	}
	return r, nil
}

// NewReader reads a recording from src; name is used in messages and to tell
// the form. The caller closes src.
func NewReader(name string, src io.Reader, opts Options) (*Reader, error) {
	r := &Reader{name: name, opts: opts.withDefaults(), homes: map[string]string{}, signals: signalTable()}
	plain := bufio.NewReaderSize(&countingReader{src: src, n: &r.read}, readAhead)
	if magic, _ := plain.Peek(2); string(magic) == "\x1f\x8b" {
		unzip, err := gzip.NewReader(plain)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		r.close = append(r.close, unzip)
		plain = bufio.NewReaderSize(unzip, readAhead)
	}
	if r.opts.MaxLine > plain.Size() {
		plain = bufio.NewReaderSize(plain, r.opts.MaxLine)
	}
	r.src = plain
	return r, r.begin()
}

// begin tells the form and passes the CSV header.
func (r *Reader) begin() error {
	if head, _ := r.src.Peek(3); string(head) == "\xef\xbb\xbf" {
		_, _ = r.src.Discard(3) // a byte order mark, as spreadsheets write it
	}
	if namedSenML(r.name) || startsPack(r.src) {
		r.next = r.nextSenML
		return nil
	}
	r.next = r.nextCSV
	line, err := r.readLine()
	switch {
	case errors.Is(err, io.EOF) && len(line) == 0:
		return nil // an empty recording
	case err != nil && !errors.Is(err, io.EOF):
		return fmt.Errorf("%s: %w", r.name, err)
	case !isHeader(line):
		return fmt.Errorf("%s: %w%s", r.name, ErrNotRecording, badHeader(line))
	}
	return nil
}

func namedSenML(name string) bool {
	switch filepath.Ext(strings.TrimSuffix(strings.ToLower(name), ".gz")) {
	case ".senml", ".jsonl", ".ndjson", ".json":
		return true
	}
	return false
}

func startsPack(src *bufio.Reader) bool {
	head, _ := src.Peek(64)
	return strings.HasPrefix(strings.TrimLeft(string(head), " \t\r\n"), "[")
}

func isHeader(line []byte) bool {
	plain := strings.NewReplacer(" ", "", `"`, "").Replace(string(line))
	return strings.EqualFold(plain, "time,home,signal,value")
}

// countingReader counts the bytes taken from src, for progress.
type countingReader struct {
	src io.Reader
	n   *atomic.Int64
}

func (c *countingReader) Read(p []byte) (int, error) {
	n, err := c.src.Read(p)
	c.n.Add(int64(n))
	return n, err
}
