package senml

import (
	"bytes"
	"errors"
	"fmt"
	"time"

	"github.com/go-json-experiment/json/jsontext"

	"brinebell/detect"
)

// Why a pack is refused as a whole.
var (
	ErrSyntax    = errors.New("not a SenML pack")
	ErrVersion   = errors.New("a SenML version that is not known here")
	ErrMandatory = errors.New("a SenML extension that must be understood and is not")
)

// Reason names why a record is no reading.
type Reason string

// The reasons.
const (
	BadField      Reason = "bad_field"      // a field has the wrong type
	BadName       Reason = "bad_name"       // not home/device/signal
	UnknownSignal Reason = "unknown_signal" // no such signal
	BadUnit       Reason = "bad_unit"       // a unit that does not fit the signal
	BadValue      Reason = "bad_value"      // no value, or one that cannot be
	BadTime       Reason = "bad_time"       // outside 2000 to 2100
	RelativeTime  Reason = "relative_time"  // relative, and there is no present
)

// RecordError is a record that is no reading.
type RecordError struct {
	Index  int // the first record is 0
	Reason Reason
	Detail string
}

// Error is the record's place and what is wrong with it.
func (e RecordError) Error() string {
	return fmt.Sprintf("record %d: %s", e.Index+1, e.Detail)
}

// Pack is what one payload said. Its slices are those of the Decoder and valid
// until its next use.
type Pack struct {
	Readings []detect.Reading // in the order of the records
	Bad      []RecordError
}

// Decoder decodes packs, reusing its memory from one to the next. The zero
// value is ready; a Decoder must not be used by two goroutines at a time.
type Decoder struct {
	source   bytes.Buffer
	json     *jsontext.Decoder
	text     []byte // strings of the current pack
	records  []record
	readings []detect.Reading
	bad      []RecordError
	homes    map[string]string
	lastHome string
}

// maxHomes bounds the homes whose ids are kept, since anyone may send names.
const maxHomes = 1 << 16

// JSON decodes a pack in JSON. Relative times count from now; with a zero now
// they are bad.
func (d *Decoder) JSON(data []byte, now time.Time) (Pack, error) {
	d.reset()
	if err := d.readJSON(data); err != nil {
		return Pack{}, err
	}
	return d.pack(now)
}

// CBOR is JSON for a pack in CBOR.
func (d *Decoder) CBOR(data []byte, now time.Time) (Pack, error) {
	d.reset()
	if err := d.readCBOR(data); err != nil {
		return Pack{}, err
	}
	return d.pack(now)
}

// Any is JSON or CBOR, told apart by the first byte: a JSON array begins with
// '[' or white space, none of which begins a CBOR array.
func (d *Decoder) Any(data []byte, now time.Time) (Pack, error) {
	if len(data) > 0 && data[0]>>5 == cborArray {
		return d.CBOR(data, now)
	}
	return d.JSON(data, now)
}

func (d *Decoder) reset() {
	d.text, d.records = d.text[:0], d.records[:0]
	d.readings, d.bad = d.readings[:0], d.bad[:0]
}

// pack gives the records their meaning.
func (d *Decoder) pack(now time.Time) (Pack, error) {
	var base base
	for i := range d.records {
		r := &d.records[i]
		if err := base.take(r); err != nil {
			return Pack{}, err
		}
		if reason, detail := d.mean(base.resolve(r), r, now); reason != "" {
			d.bad = append(d.bad, RecordError{i, reason, detail})
		}
	}
	return Pack{d.readings, d.bad}, nil
}

// home is the id as a string kept once.
func (d *Decoder) home(id []byte) string {
	if string(id) == d.lastHome {
		return d.lastHome
	}
	home, ok := d.homes[string(id)]
	if !ok {
		if d.homes == nil || len(d.homes) >= maxHomes {
			d.homes = map[string]string{}
		}
		home = string(id)
		d.homes[home] = home
	}
	d.lastHome = home
	return home
}
