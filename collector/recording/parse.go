package recording

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"time"

	"brinebell/detect"
)

// parseLine reads one line of the CSV form. The reason is empty when the
// reading is good.
func (r *Reader) parseLine(line []byte) (reading detect.Reading, why string) {
	var f [4][]byte
	if !splitFields(line, &f) {
		return reading, badFields(line)
	}
	at, ok := parseTime(f[0])
	if !ok {
		return reading, badTime(f[0])
	}
	home, ok := r.home(f[1])
	if !ok {
		return reading, fmt.Sprintf("home id %.40q is not of a-z, 0-9 and -", f[1])
	}
	signal, ok := r.signals[string(f[2])]
	if !ok {
		return reading, r.badSignal(f[2])
	}
	value, ok := parseNumber(f[3])
	if !ok {
		return reading, fmt.Sprintf("value %.40q is not a number", f[3])
	}
	reading = detect.Reading{Home: home, Signal: signal, Time: at, Value: value}
	if err := reading.Check(); err != nil {
		return reading, err.Error()
	}
	return reading, ""
}

// splitFields cuts the line at its commas; ok is false unless they are three.
func splitFields(line []byte, f *[4][]byte) (ok bool) {
	for i := range 3 {
		end := bytes.IndexByte(line, ',')
		if end < 0 {
			return false
		}
		f[i], line = trim(line[:end]), line[end+1:]
	}
	f[3] = trim(line)
	return bytes.IndexByte(line, ',') < 0
}

// trim takes off the spaces and the quotes that spreadsheets put round a field.
func trim(field []byte) []byte {
	if n := len(field); n == 0 || field[0] > '"' && field[n-1] > '"' {
		return field
	}
	field = bytes.TrimSpace(field)
	if n := len(field); n >= 2 && field[0] == '"' && field[n-1] == '"' {
		field = field[1 : n-1]
	}
	return field
}

// home is the id kept once; ok is false when it is not of a-z, 0-9 and -.
func (r *Reader) home(id []byte) (home string, ok bool) {
	if string(id) == r.lastHome && r.lastHome != "" {
		return r.lastHome, true
	}
	home, ok = r.homes[string(id)]
	if !ok {
		if !validHome(id) {
			return "", false
		}
		home = string(id)
		r.homes[home] = home
	}
	r.lastHome = home
	return home, true
}

func validHome(id []byte) bool {
	for _, c := range id {
		if (c < 'a' || c > 'z') && (c < '0' || c > '9') && c != '-' {
			return false
		}
	}
	return len(id) > 0
}

// powers are the powers of ten that float64 holds exactly.
var powers = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// parseNumber reads a decimal number. One of at most 15 digits without an
// exponent is the quotient of two numbers that float64 holds exactly, so a
// single division rounds it correctly (W. D. Clinger, "How to read floating
// point numbers accurately", PLDI 1990); the rest is left to strconv.
func parseNumber(text []byte) (value float64, ok bool) {
	digits := text
	negative := len(text) > 0 && text[0] == '-'
	if negative {
		digits = text[1:]
	}
	var mantissa uint64
	point, seen := -1, 0
	for i, c := range digits {
		switch {
		case c >= '0' && c <= '9':
			mantissa = mantissa*10 + uint64(c-'0')
			seen++
		case c == '.' && point < 0:
			point = i
		default:
			return parseNumberSlow(text)
		}
	}
	if seen == 0 || seen > 15 {
		return parseNumberSlow(text)
	}
	value = float64(mantissa)
	if point >= 0 {
		value /= powers[len(digits)-point-1]
	}
	if negative {
		value = -value
	}
	return value, true
}

// parseNumberSlow is strconv without its hexadecimal and named forms.
func parseNumberSlow(text []byte) (value float64, ok bool) {
	for _, c := range text {
		if (c < '0' || c > '9') && bytes.IndexByte([]byte("+-.eE"), c) < 0 {
			return 0, false
		}
	}
	value, err := strconv.ParseFloat(string(text), 64)
	return value, err == nil && !math.IsInf(value, 0)
}

func signalTable() map[string]detect.Signal {
	table := make(map[string]detect.Signal, detect.NumSignals)
	for s := range detect.NumSignals {
		table[s.String()] = s
	}
	return table
}

// parseTime reads RFC 3339 or Unix seconds with a fraction, to the
// millisecond.
func parseTime(text []byte) (at time.Time, ok bool) {
	if len(text) > 7 && text[4] == '-' && text[7] == '-' {
		return parseRFC3339(text)
	}
	return parseUnix(text)
}
