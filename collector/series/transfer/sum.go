package transfer

import (
	"encoding/binary"
	"fmt"
	"hash/crc64"
	"math"

	"brinebell/detect"
)

var polynomial = crc64.MakeTable(crc64.ECMA)

// sum is a signal's day in short.
type sum struct {
	count int
	crc   uint64
}

// sums are the sums of a home's readings, in order of time, by signal.
func sums(readings []detect.Reading) (s [detect.NumSignals]sum) {
	var buf [16]byte
	for _, r := range readings {
		binary.LittleEndian.PutUint64(buf[:], uint64(r.Time.UnixMilli()))
		binary.LittleEndian.PutUint64(buf[8:], math.Float64bits(r.Value))
		s[r.Signal].count++
		s[r.Signal].crc = crc64.Update(s[r.Signal].crc, polynomial, buf[:])
	}
	return s
}

// compare says how what is there differs from what was copied, or nothing. There
// may be more at the target, if it had readings of its own.
func compare(copied, there []detect.Reading) string {
	want, got := sums(copied), sums(there)
	for signal := range detect.NumSignals {
		switch w, g := want[signal], got[signal]; {
		case w == g, w.count == 0:
		case g.count > w.count && among(copied, there, signal):
		case w.count != g.count:
			return fmt.Sprintf("%v has %d readings and %d arrived", signal, w.count, g.count)
		default:
			return fmt.Sprintf("%v has other times or values at the target (checksum %016x, not %016x)", signal, g.crc, w.crc)
		}
	}
	return ""
}

// among says whether a signal's readings are all among others.
func among(some, others []detect.Reading, signal detect.Signal) bool {
	values := map[int64]float64{}
	for _, r := range others {
		if r.Signal == signal {
			values[r.Time.UnixMilli()] = r.Value
		}
	}
	for _, r := range some {
		if v, ok := values[r.Time.UnixMilli()]; r.Signal == signal && (!ok || v != r.Value) {
			return false
		}
	}
	return true
}
