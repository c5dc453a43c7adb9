package senml

import (
	"fmt"
	"math"
	"math/big"
	"strings"

	"github.com/fxamacker/cbor/v2"
)

// cborArray is the major type of an array: the top three bits of its first
// byte (RFC 8949, section 3.1).
const cborArray = 4

// decimalFraction is the tag of a mantissa with an exponent of ten (RFC 8949,
// section 3.4.4), which RFC 8428 section 6 allows for numbers.
const decimalFraction = 4

// readCBOR fills records from a pack in CBOR (RFC 8428, section 6).
func (d *Decoder) readCBOR(data []byte) error {
	var pack []map[any]cbor.RawMessage
	if err := cbor.Unmarshal(data, &pack); err != nil {
		return syntax(err)
	}
	for _, object := range pack {
		if object == nil {
			return fmt.Errorf("%w: a record that is no CBOR map", ErrSyntax)
		}
		var r record
		for key, value := range object {
			if err := takeCBOR(&r, key, value); err != nil {
				return err
			}
		}
		d.records = append(d.records, r)
	}
	return nil
}

// takeCBOR stores one field.
func takeCBOR(r *record, key any, raw cbor.RawMessage) error {
	l, err := labelOf(key)
	if l == nil || err != nil {
		return err
	}
	ok := true
	switch {
	case l.text != nil:
		var text string
		ok = cbor.Unmarshal(raw, &text) == nil && raw[0]>>5 == 3
		*l.text(r) = []byte(text)
	case l.number64 != nil:
		*l.number64(r), ok = numberCBOR(raw)
	case l.field == hasBool:
		ok = cbor.Unmarshal(raw, &r.boolean) == nil && raw[0]>>1 == 0xf4>>1
	}
	return r.store(l, ok)
}

// labelOf finds the label of a map's key: a number, or text for extensions. It
// is nil for one that may be ignored.
func labelOf(key any) (*label, error) {
	switch k := key.(type) {
	case uint64:
		if k > math.MaxInt64 {
			return nil, nil
		}
		return labelNumbered(int64(k)), nil
	case int64:
		return labelNumbered(k), nil
	case string:
		return nil, unknownLabel([]byte(k))
	}
	return nil, nil
}

// numberCBOR reads an integer, a float of any width or a decimal fraction.
func numberCBOR(raw cbor.RawMessage) (value float64, ok bool) {
	var v any
	if cbor.Unmarshal(raw, &v) != nil {
		return 0, false
	}
	return number(v)
}

func number(v any) (value float64, ok bool) {
	switch n := v.(type) {
	case uint64:
		return float64(n), true
	case int64:
		return float64(n), true
	case float64:
		return n, true
	case big.Int:
		value, _ = new(big.Float).SetInt(&n).Float64()
		return value, true
	case cbor.Tag:
		parts, isList := n.Content.([]any)
		if n.Number != decimalFraction || !isList || len(parts) != 2 {
			return 0, false
		}
		return fraction(parts[0], parts[1])
	}
	return 0, false
}

// fraction is mantissa times ten to the exponent, correctly rounded: the two
// are written down and read as a decimal.
func fraction(exponent, mantissa any) (value float64, ok bool) {
	switch exponent.(type) {
	case uint64, int64:
	default:
		return 0, false
	}
	switch m := mantissa.(type) {
	case uint64, int64:
		return parseFloat(fmt.Sprintf("%de%d", m, exponent))
	case big.Int:
		return parseFloat(fmt.Sprintf("%se%d", strings.TrimSpace(m.String()), exponent))
	}
	return 0, false
}
