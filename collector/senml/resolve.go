package senml

import (
	"fmt"
	"strconv"
)

// The versions of SenML that are read: those up to 10 (RFC 8428), and 10 with
// secondary units, which is feature 4 (RFC 9100, section 6: 10 + 2^4).
const (
	version        = 10
	secondaryUnits = version + 1<<4
)

// base is the base fields in force.
type base struct {
	name, unit       []byte
	time, value, sum float64
	hasValue, hasSum bool
}

// take carries a record's base fields forward to it and those after it (RFC
// 8428, section 4.1).
func (b *base) take(r *record) error {
	if v := r.version; r.has(hasVersion) && v != secondaryUnits && (v < 1 || v > version) {
		return fmt.Errorf("%w: %v", ErrVersion, v)
	}
	if r.has(hasBaseName) {
		b.name = r.baseName
	}
	if r.has(hasBaseUnit) {
		b.unit = r.baseUnit
	}
	if r.has(hasBaseTime) {
		b.time = r.baseTime
	}
	if r.has(hasBaseValue) {
		b.value, b.hasValue = r.baseValue, true
	}
	if r.has(hasBaseSum) {
		b.sum, b.hasSum = r.baseSum, true
	}
	return nil
}

// resolved is a record by itself, without base fields (RFC 8428, section 4.6).
// The name is still in its two parts, to spare joining them.
type resolved struct {
	prefix, suffix   []byte
	unit             []byte
	time             float64 // s; relative to the present when below 2^28
	value, sum       float64
	hasValue, hasSum bool
	boolean          bool // the value came as true or false
}

// resolve adds the base to the record. A base value stands for the value of a
// record that has neither value nor sum, a base sum likewise: a missing field is
// taken as zero when its base is there.
func (b *base) resolve(r *record) resolved {
	out := resolved{prefix: b.name, suffix: r.name, unit: b.unit, time: b.time + r.time,
		value: b.value + r.value, sum: b.sum + r.sum,
		hasValue: r.has(hasValue), hasSum: r.has(hasSum), boolean: r.has(hasBool)}
	if r.has(hasUnit) {
		out.unit = r.unit
	}
	if !r.has(hasValue | hasBool | hasOther | hasSum) {
		out.hasValue, out.hasSum = b.hasValue, b.hasSum
	}
	if out.boolean && !out.hasValue {
		out.value, out.hasValue = 0, true
		if r.boolean {
			out.value = 1
		}
	}
	return out
}

func parseFloat(text string) (value float64, ok bool) {
	value, err := strconv.ParseFloat(text, 64)
	return value, err == nil
}
