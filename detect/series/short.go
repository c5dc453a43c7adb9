package series

import "math"

// Short is a flow in L/min, or litres in a minute, in two bytes: five bits of
// exponent and eleven of mantissa, so that what is kept is within 1 in 4,000 of
// what was measured, from shortLeast to more than any pipe carries. Homes keep a
// day of minutes; at four bytes that was a fifth of their memory.
type Short uint16

const (
	// UnknownShort is a minute that nobody measured.
	UnknownShort Short = math.MaxUint16
	// shortBias is the exponent, as float32 stores it, at which Short begins:
	// 2^-20, a thousandth of a drip a minute. Less is nothing.
	shortBias  = (127 - 20) << 23
	shortDrops = 23 - 11 // bits of float32's mantissa that are let go
	shortMost  = UnknownShort - 1
)

// Shorten rounds to the nearest Short. What is negative becomes nothing, NaN
// unknown.
func Shorten(v float64) Short {
	if v != v {
		return UnknownShort
	}
	bits := int64(math.Float32bits(float32(math.Max(v, 0)))) - shortBias
	if bits <= 0 {
		return 0
	}
	return Short(min((bits+1<<(shortDrops-1))>>shortDrops, int64(shortMost)))
}

// Float is the value, NaN when unknown.
func (s Short) Float() float32 {
	switch s {
	case UnknownShort:
		return unknown
	case 0:
		return 0
	}
	return math.Float32frombits(uint32(s)<<shortDrops + shortBias)
}
