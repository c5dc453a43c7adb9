package recording

import (
	"io"

	"brinebell/collector/senml"
	"brinebell/detect"
)

const (
	// senmlDevice is the device that a recording's packs name.
	senmlDevice = "recording"
	// packSize bounds a pack, so that a line stays readable.
	packSize = 100
)

// packer gathers consecutive readings of a home into packs, a line each.
type packer struct {
	pending []detect.Reading
	line    []byte
}

// add takes a reading in and writes the pack before it if it is full or of
// another home.
func (p *packer) add(out io.Writer, r detect.Reading) error {
	if n := len(p.pending); n == packSize || n > 0 && p.pending[0].Home != r.Home {
		if err := p.flush(out); err != nil {
			return err
		}
	}
	p.pending = append(p.pending, r)
	return nil
}

// flush writes the pack, if there is any.
func (p *packer) flush(out io.Writer) (err error) {
	if len(p.pending) == 0 {
		return nil
	}
	p.line, err = senml.AppendJSON(p.line[:0], senmlDevice, p.pending)
	if err != nil {
		return err
	}
	p.pending = p.pending[:0]
	_, err = out.Write(append(p.line, '\n'))
	return err
}
