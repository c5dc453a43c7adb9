package recording

import (
	"bufio"
	"errors"
	"io"
	"math"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/klauspost/compress/gzip"

	"brinebell/detect"
)

// Writer writes a recording. In the CSV form times are Unix seconds to the
// millisecond and values the shortest decimals that read back the same; in the
// SenML form consecutive readings of a home make a pack.
type Writer struct {
	out   *bufio.Writer
	close []io.Closer // in this order
	line  []byte
	packs *packer // in the SenML form
}

// Create makes the recording at path, gzipped when the name ends in .gz and in
// the SenML form when it is named so (see Open); "-" is the standard output.
func Create(path string) (*Writer, error) {
	if path == Stdin {
		return NewWriter(os.Stdout)
	}
	f, err := os.Create(path)
	if err != nil {
		return nil, err
	}
	begin := NewWriter
	if namedSenML(path) {
		begin = NewSenMLWriter
	}
	if !strings.HasSuffix(path, ".gz") {
		w, err := begin(f)
		return w.closing(f), err
	}
	zip := gzip.NewWriter(f)
	w, err := begin(zip)
	return w.closing(zip, f), err
}

// NewSenMLWriter writes a recording in the SenML form to out, which the caller
// closes.
func NewSenMLWriter(out io.Writer) (*Writer, error) {
	return &Writer{out: bufio.NewWriterSize(out, readAhead), packs: &packer{}}, nil
}

// NewWriter writes a recording in the CSV form to out, which the caller closes.
func NewWriter(out io.Writer) (*Writer, error) {
	w := &Writer{out: bufio.NewWriterSize(out, readAhead)}
	_, err := w.out.WriteString("time,home,signal,value\n")
	return w, err
}

func (w *Writer) closing(c ...io.Closer) *Writer {
	w.close = c
	return w
}

// Write appends one reading.
func (w *Writer) Write(r detect.Reading) error {
	if w.packs != nil {
		return w.packs.add(w.out, r)
	}
	b := appendTime(w.line[:0], r.Time)
	b = append(b, ',')
	b = append(b, r.Home...)
	b = append(b, ',')
	b = append(b, r.Signal.String()...)
	b = append(b, ',')
	b = appendNumber(b, r.Value)
	w.line = append(b, '\n')
	_, err := w.out.Write(w.line)
	return err
}

// Close writes out what is buffered and closes the file. Without it the
// recording is not whole.
func (w *Writer) Close() error {
	var errs []error
	if w.packs != nil {
		errs = append(errs, w.packs.flush(w.out))
	}
	errs = append(errs, w.out.Flush())
	for _, c := range w.close {
		errs = append(errs, c.Close())
	}
	return errors.Join(errs...)
}

func appendTime(b []byte, at time.Time) []byte {
	ms := at.UnixMilli()
	b = strconv.AppendInt(b, ms/1000, 10)
	if ms %= 1000; ms != 0 {
		b = append(b, '.', byte('0'+ms/100), byte('0'+ms/10%10), byte('0'+ms%10))
	}
	return b
}

// appendNumber writes ordinary sizes without an exponent, for readers' sake.
func appendNumber(b []byte, v float64) []byte {
	form := byte('f')
	if a := math.Abs(v); a != 0 && (a < 1e-6 || a >= 1e15) {
		form = 'g'
	}
	return strconv.AppendFloat(b, v, form, -1, 64)
}
