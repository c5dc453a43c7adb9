package spool

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"math"
	"time"

	"brinebell/detect"
)

// A frame is one batch on disk, integers little endian:
//
//	mark    4 bytes, by which frames are found again behind damage
//	length  uint32 of the payload
//	crc     uint32 of the payload, Castagnoli (RFC 3720, appendix B.4)
//	payload
//
// The payload is a row of variable-length integers (as of encoding/binary) and
// numbers: when the batch came (ms), how many readings, then for each reading its
// home, its signal, its time less that of the reading before (ms), and its value as
// 8 bytes of IEEE 754. A home or signal is the index of one named before in the
// frame, or the next index followed by its name with its length.
const (
	frameMark   = "\xb5Br\x01"
	frameHeader = len(frameMark) + 4 + 4
	// maxPayload bounds what a damaged length can ask for.
	maxPayload = 64 << 20
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

var errFrame = errors.New("damaged frame")

// batch is what a frame holds.
type batch struct {
	came     time.Time
	readings []detect.Reading
}

// appendFrame appends a batch's frame.
func appendFrame(out []byte, b batch) []byte {
	start := len(out)
	out = append(out, frameMark...)
	out = append(out, make([]byte, 8)...)
	out = appendPayload(out, b)
	payload := out[start+frameHeader:]
	binary.LittleEndian.PutUint32(out[start+len(frameMark):], uint32(len(payload)))
	binary.LittleEndian.PutUint32(out[start+len(frameMark)+4:], crc32.Checksum(payload, castagnoli))
	return out
}

func appendPayload(out []byte, b batch) []byte {
	out = binary.AppendVarint(out, b.came.UnixMilli())
	out = binary.AppendUvarint(out, uint64(len(b.readings)))
	homes, signals := map[string]uint64{}, map[string]uint64{}
	before := int64(0)
	for _, r := range b.readings {
		out = appendNamed(out, homes, r.Home)
		out = appendNamed(out, signals, r.Signal.String())
		at := r.Time.UnixMilli()
		out = binary.AppendVarint(out, at-before)
		out = binary.LittleEndian.AppendUint64(out, math.Float64bits(r.Value))
		before = at
	}
	return out
}

// appendNamed appends the index of a name, and the name when it is new.
func appendNamed(out []byte, names map[string]uint64, name string) []byte {
	index, named := names[name]
	if !named {
		index = uint64(len(names))
		names[name] = index
	}
	out = binary.AppendUvarint(out, index)
	if named {
		return out
	}
	return append(binary.AppendUvarint(out, uint64(len(name))), name...)
}

// frameAt is the payload of the frame that in begins with, and the frame's whole
// length.
func frameAt(in []byte) (payload []byte, length int, err error) {
	if len(in) < frameHeader || string(in[:len(frameMark)]) != frameMark {
		return nil, 0, errFrame
	}
	n := binary.LittleEndian.Uint32(in[len(frameMark):])
	if n > maxPayload || int(n) > len(in)-frameHeader {
		return nil, 0, errFrame
	}
	payload = in[frameHeader : frameHeader+int(n)]
	if crc32.Checksum(payload, castagnoli) != binary.LittleEndian.Uint32(in[len(frameMark)+4:]) {
		return nil, 0, errFrame
	}
	return payload, frameHeader + int(n), nil
}

// nextFrame is where the next sound frame begins, or -1.
func nextFrame(in []byte) int {
	for from := 0; ; from++ {
		i := bytes.Index(in[from:], []byte(frameMark))
		if i < 0 {
			return -1
		}
		from += i
		if _, _, err := frameAt(in[from:]); err == nil {
			return from
		}
	}
}

// payloadReader takes a payload apart. After an error it gives zeros.
type payloadReader struct {
	in  []byte
	err error
}

func (p *payloadReader) skip(n int) []byte {
	if n <= 0 || n > len(p.in) {
		p.in, p.err = nil, errFrame
		return nil
	}
	out := p.in[:n]
	p.in = p.in[n:]
	return out
}

func (p *payloadReader) uvarint() uint64 {
	v, n := binary.Uvarint(p.in)
	p.skip(n)
	return v
}

func (p *payloadReader) varint() int64 {
	v, n := binary.Varint(p.in)
	p.skip(n)
	return v
}

func (p *payloadReader) name() string {
	n := p.uvarint()
	if n == 0 {
		return ""
	}
	if n > uint64(len(p.in)) {
		p.err = errFrame
		return ""
	}
	return string(p.skip(int(n)))
}

func (p *payloadReader) float() float64 {
	b := p.skip(8)
	if b == nil {
		return 0
	}
	return math.Float64frombits(binary.LittleEndian.Uint64(b))
}

// index reads an index into n names; one that is n says that the name follows.
func (p *payloadReader) index(n int) (index int, follows bool) {
	i := p.uvarint()
	if i > uint64(n) {
		p.err = errFrame
		return 0, false
	}
	return int(i), p.err == nil && i == uint64(n)
}

func (p *payloadReader) signal() detect.Signal {
	signal, err := detect.ParseSignal(p.name())
	if err != nil && p.err == nil {
		p.err = fmt.Errorf("%w: %v", errFrame, err)
	}
	return signal
}

// decode takes a payload apart and hands each reading to do.
func decode(payload []byte, do func(detect.Reading)) (came time.Time, err error) {
	p := &payloadReader{in: payload}
	came = time.UnixMilli(p.varint()).UTC()
	var homes []string
	var signals []detect.Signal
	at := int64(0)
	for n := p.uvarint(); n > 0 && p.err == nil; n-- {
		home, follows := p.index(len(homes))
		if follows {
			homes = append(homes, p.name())
		}
		signal, follows := p.index(len(signals))
		if follows {
			signals = append(signals, p.signal())
		}
		at += p.varint()
		value := p.float()
		if p.err == nil {
			do(detect.Reading{Home: homes[home], Signal: signals[signal], Time: time.UnixMilli(at).UTC(), Value: value})
		}
	}
	return came, p.err
}
