package recording

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"sync/atomic"

	"brinebell/collector/senml"
	"brinebell/detect"
)

// Reader reads one recording. Only BytesRead and Size may be called while
// another goroutine is in Next.
type Reader struct {
	name  string
	opts  Options
	src   *bufio.Reader
	next  func() (detect.Reading, error)
	line  int
	bad   BadLines
	read  atomic.Int64
	size  int64
	close []io.Closer

	homes    map[string]string // every home id once
	lastHome string            // usually that of the next line too
	signals  map[string]detect.Signal
	noSignal [2]string // the last name that is no signal's, and why

	decoder senml.Decoder
	pending []detect.Reading // of the current SenML line
}

// Next is the next reading, in the order of the file. It returns io.EOF at the
// end, a *BadLine at a bad line when the reader is strict, and any other error
// when the file cannot be read any further.
func (r *Reader) Next() (detect.Reading, error) { return r.next() }

// Bad is what could not be read so far.
func (r *Reader) Bad() BadLines { return r.bad }

// Name is the file's, as in messages.
func (r *Reader) Name() string { return r.name }

// BytesRead is how much of the file has been taken in, before decompression.
func (r *Reader) BytesRead() int64 { return r.read.Load() }

// Size is the file's size in bytes, or 0 when it is not known.
func (r *Reader) Size() int64 { return r.size }

// Line is the number of the line that Next read last.
func (r *Reader) Line() int { return r.line }

// Close closes the file.
func (r *Reader) Close() error {
	var errs []error
	for _, c := range r.close {
		errs = append(errs, c.Close())
	}
	r.close = nil
	return errors.Join(errs...)
}

// errLong is a line that does not fit; the rest of it has been passed over.
var errLong = errors.New("line is too long")

// readLine is the next line without its ending, valid until the next call. A
// last line without an ending comes with a nil error.
func (r *Reader) readLine() ([]byte, error) {
	line, err := r.src.ReadSlice('\n')
	r.line++
	if err != nil {
		return r.endLine(line, err)
	}
	line = line[:len(line)-1]
	if n := len(line); n > 0 && line[n-1] == '\r' {
		line = line[:n-1]
	}
	return line, nil
}

// endLine is readLine where no newline was found.
func (r *Reader) endLine(line []byte, err error) ([]byte, error) {
	switch {
	case errors.Is(err, bufio.ErrBufferFull):
		for errors.Is(err, bufio.ErrBufferFull) {
			_, err = r.src.ReadSlice('\n')
		}
		return nil, errLong
	case errors.Is(err, io.EOF) && len(line) > 0:
		return bytes.TrimRight(line, "\r"), nil
	case errors.Is(err, io.EOF):
		return nil, io.EOF
	}
	return nil, fmt.Errorf("%s:%d: the file is damaged: %w", r.name, r.line, err)
}

// nextCSV is Next for the CSV form.
func (r *Reader) nextCSV() (detect.Reading, error) {
	for {
		line, err := r.readLine()
		if err != nil && !errors.Is(err, errLong) {
			return detect.Reading{}, err
		}
		var reading detect.Reading
		why := "line is too long"
		if err == nil {
			if len(line) == 0 {
				continue
			}
			reading, why = r.parseLine(line)
		}
		if why == "" {
			return reading, nil
		}
		if err := r.reject(why); err != nil {
			return detect.Reading{}, err
		}
	}
}

// nextSenML is Next for the SenML form.
func (r *Reader) nextSenML() (detect.Reading, error) {
	for len(r.pending) == 0 {
		line, err := r.readLine()
		if err != nil && !errors.Is(err, errLong) {
			return detect.Reading{}, err
		}
		if err == nil && len(bytes.TrimSpace(line)) == 0 {
			continue
		}
		if err := r.takePack(line, err); err != nil {
			return detect.Reading{}, err
		}
	}
	reading := r.pending[0]
	r.pending = r.pending[1:]
	return reading, nil
}

// takePack decodes a line into pending. The error is that of a strict reader.
func (r *Reader) takePack(line []byte, err error) error {
	var pack senml.Pack
	if err == nil {
		pack, err = r.decoder.JSON(line, r.opts.Now)
	}
	if err != nil {
		return r.reject(err.Error())
	}
	for _, bad := range pack.Bad {
		if err := r.reject(bad.Error()); err != nil {
			return err
		}
	}
	r.pending = pack.Readings
	return nil
}
