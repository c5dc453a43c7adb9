package engine

import (
	"bytes"
	"encoding/gob"
	"errors"
)

// Unpacker reads snapshots. A snapshot begins with descriptions of its types,
// which cost more to read than what follows; an Unpacker remembers those of the
// last one, and passes over them where the next one's are the same, as all of one
// program's are. It is used by one goroutine at a time.
type Unpacker struct {
	types   []byte // the descriptions that decoder has read
	in      bytes.Reader
	decoder *gob.Decoder
}

// NewUnpacker makes an unpacker that remembers nothing yet.
func NewUnpacker() *Unpacker { return &Unpacker{} }

// decode reads a snapshot.
func (u *Unpacker) decode(snapshot []byte, s *state) error {
	types, value, err := describedBy(snapshot)
	if err != nil {
		return err
	}
	if u.decoder != nil && bytes.Equal(types, u.types) {
		u.in.Reset(value)
	} else {
		u.types = append(u.types[:0], types...)
		u.in.Reset(snapshot)
		u.decoder = gob.NewDecoder(&u.in)
	}
	if err := u.decoder.Decode(s); err != nil {
		u.decoder = nil // it may have stopped in the middle
		return err
	}
	return nil
}

var errSnapshot = errors.New("it ends too soon")

// describedBy cuts a snapshot where the descriptions of its types end. It is a
// sequence of messages, each its length and then the number of its type, which
// is negative where it describes one (package encoding/gob, "Encoding Details").
func describedBy(snapshot []byte) (types, value []byte, err error) {
	for at := 0; at < len(snapshot); {
		length, n := gobUint(snapshot[at:])
		number, m := gobUint(snapshot[min(at+n, len(snapshot)):])
		if n == 0 || m == 0 || length > uint64(len(snapshot)-at-n) {
			break
		}
		if negative := number&1 == 1; !negative {
			return snapshot[:at], snapshot[at:], nil
		}
		at += n + int(length)
	}
	return nil, nil, errSnapshot
}

// gobUint reads an unsigned number as gob writes it: below 128 as itself, else
// big-endian behind the negated count of its bytes. n is how long it is, 0 when
// it is not whole.
func gobUint(b []byte) (v uint64, n int) {
	if len(b) == 0 {
		return 0, 0
	}
	if b[0] < 128 {
		return uint64(b[0]), 1
	}
	count := -int(int8(b[0]))
	if count > 8 || len(b) <= count {
		return 0, 0
	}
	for _, c := range b[1 : 1+count] {
		v = v<<8 | uint64(c)
	}
	return v, 1 + count
}
