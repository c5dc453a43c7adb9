package senml

import (
	"fmt"
	"strconv"
	"time"

	"github.com/go-json-experiment/json/jsontext"

	"brinebell/detect"
)

// AppendJSON appends one pack in JSON with the readings of one home as measured
// by one device, in units recommended by the registry, without a newline. Times
// are written to the millisecond, relative to the first. Values of up
// to 15 significant digits come back the same.
func AppendJSON(dst []byte, device string, readings []detect.Reading) ([]byte, error) {
	if len(readings) == 0 {
		return append(dst, "[]"...), nil
	}
	first := readings[0]
	dst = append(dst, `[{"bn":`...)
	dst, err := jsontext.AppendQuote(dst, first.Home+"/"+device+"/")
	if err != nil {
		return dst, err
	}
	dst = append(dst, `,"bt":`...)
	dst = appendSeconds(dst, first.Time.UnixMilli())
	for i, r := range readings {
		if r.Home != first.Home {
			return dst, fmt.Errorf("a pack of home %q cannot hold a reading of %q", first.Home, r.Home)
		}
		sep := `,`
		if i > 0 {
			sep = `},{`
		}
		dst = append(dst, sep...)
		if dst, err = appendRecord(dst, r, first.Time); err != nil {
			return dst, err
		}
	}
	return append(dst, "}]"...), nil
}

// appendRecord appends a record's own fields.
func appendRecord(dst []byte, r detect.Reading, base time.Time) ([]byte, error) {
	if err := r.Check(); err != nil {
		return dst, err
	}
	list := unitsOf(r.Signal)
	if len(list) == 0 {
		return dst, fmt.Errorf("no unit for %s", r.Signal)
	}
	dst = append(dst, `"n":"`...)
	dst = append(dst, r.Signal.String()...)
	dst = append(dst, `","u":"`...)
	dst = append(dst, list[0].name...)
	dst = append(dst, `","v":`...)
	dst = appendFloat(dst, list[0].invert(r.Value))
	if ms := r.Time.UnixMilli() - base.UnixMilli(); ms != 0 {
		dst = append(dst, `,"t":`...)
		dst = appendSeconds(dst, ms)
	}
	return dst, nil
}

// invert is convert's inverse, for values of up to 15 digits exactly.
func (u unit) invert(value float64) float64 {
	if u.factor == 1 && u.offset == 0 {
		return value
	}
	return tidy((value - u.offset) / u.factor)
}

// appendSeconds writes milliseconds as seconds.
func appendSeconds(dst []byte, ms int64) []byte {
	if ms < 0 {
		dst, ms = append(dst, '-'), -ms
	}
	dst = strconv.AppendInt(dst, ms/1000, 10)
	if ms %= 1000; ms != 0 {
		dst = append(dst, '.', byte('0'+ms/100), byte('0'+ms/10%10), byte('0'+ms%10))
	}
	return dst
}

// appendFloat writes a number as JSON, the shortest that reads back the same.
func appendFloat(dst []byte, v float64) []byte {
	return strconv.AppendFloat(dst, v, 'g', -1, 64)
}
