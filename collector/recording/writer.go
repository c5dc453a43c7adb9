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

// Writer writes the CSV form: times as Unix seconds to the millisecond, values
// as the shortest decimals that read back the same.
type Writer struct {
	out   *bufio.Writer
	close []io.Closer // in this order
	line  []byte
}

// Create makes the recording at path, gzipped when the name ends in .gz; "-" is
// the standard output.
func Create(path string) (*Writer, error) {
	if path == Stdin {
		return NewWriter(os.Stdout)
	}
	f, err := os.Create(path)
	if err != nil {
		return nil, err
	}
	if !strings.HasSuffix(path, ".gz") {
		w, err := NewWriter(f)
		return w.closing(f), err
	}
	zip := gzip.NewWriter(f)
	w, err := NewWriter(zip)
	return w.closing(zip, f), err
}

// NewWriter writes a recording to out, which the caller closes.
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
	errs := []error{w.out.Flush()}
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
