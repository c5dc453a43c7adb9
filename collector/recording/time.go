package recording

import (
	"bytes"
	"time"
)

// parseUnix reads seconds since 1970 with an optional fraction, truncated to
// the millisecond. Negative times are no measurements.
func parseUnix(text []byte) (at time.Time, ok bool) {
	seconds, fraction, dotted := bytes.Cut(text, []byte{'.'})
	s, ok := digitsOf(seconds)
	if !ok || dotted && len(fraction) == 0 {
		return parseUnixFloat(text)
	}
	ms, ok := millis(fraction)
	if !ok {
		return parseUnixFloat(text)
	}
	return time.Unix(s, ms*int64(time.Millisecond)).UTC(), true
}

// parseUnixFloat reads a time in exponent form, 1.78e9, as spreadsheets and
// scripts write it. It is rounded to the microsecond first, since the nearest
// float64 to a whole millisecond may lie just under it.
func parseUnixFloat(text []byte) (at time.Time, ok bool) {
	s, ok := parseNumber(text)
	if !ok || s < 0 || s >= 1<<40 {
		return time.Time{}, false
	}
	return time.UnixMicro(int64(s*1e6 + 0.5)).Truncate(time.Millisecond).UTC(), true
}

// digitsOf reads a whole number of 1 to 12 digits.
func digitsOf(text []byte) (n int64, ok bool) {
	if len(text) == 0 || len(text) > 12 {
		return 0, false
	}
	for _, c := range text {
		if c < '0' || c > '9' {
			return 0, false
		}
		n = n*10 + int64(c-'0')
	}
	return n, true
}

// millis reads the digits after the point as whole milliseconds.
func millis(fraction []byte) (ms int64, ok bool) {
	for i := range 3 {
		ms *= 10
		if i < len(fraction) {
			ms += int64(fraction[i] - '0')
		}
	}
	for _, c := range fraction {
		if c < '0' || c > '9' {
			return 0, false
		}
	}
	return ms, true
}

// parseRFC3339 reads the profile of ISO 8601 of RFC 3339, section 5.6, to the
// millisecond; T and Z may be small or, as its note allows, T a space. Its leap
// second is refused, as no Unix time stands for it.
func parseRFC3339(text []byte) (at time.Time, ok bool) {
	if len(text) < len("2006-01-02T15:04:05Z") {
		return at, false
	}
	const form = "dddd-dd-ddTdd:dd:dd"
	for i := range len(form) {
		c := text[i]
		switch form[i] {
		case 'd':
			ok = c >= '0' && c <= '9'
		case 'T':
			ok = c == 'T' || c == 't' || c == ' '
		default:
			ok = c == form[i]
		}
		if !ok {
			return at, false
		}
	}
	rest := text[len(form):]
	var ms int64
	if rest[0] == '.' {
		end := 1
		for end < len(rest) && rest[end] >= '0' && rest[end] <= '9' {
			end++
		}
		if end == 1 {
			return at, false
		}
		ms, _ = millis(rest[1:end])
		rest = rest[end:]
	}
	offset, ok := parseOffset(rest)
	if !ok {
		return at, false
	}
	year, month, day := two(text)*100+two(text[2:]), two(text[5:]), two(text[8:])
	hour, minute, second := two(text[11:]), two(text[14:]), two(text[17:])
	if month < 1 || month > 12 || day < 1 || day > daysIn(year, month) || hour > 23 || minute > 59 || second > 59 {
		return at, false
	}
	unix := daysSince1970(year, month, day)*86400 + int64(hour*3600+minute*60+second) - offset
	return time.Unix(unix, ms*int64(time.Millisecond)).UTC(), true
}

// parseOffset reads Z or +hh:mm as seconds east of UTC.
func parseOffset(text []byte) (seconds int64, ok bool) {
	if len(text) == 1 && (text[0] == 'Z' || text[0] == 'z') {
		return 0, true
	}
	if len(text) != len("+00:00") || text[3] != ':' || text[0] != '+' && text[0] != '-' {
		return 0, false
	}
	h, ok1 := digitsOf(text[1:3])
	m, ok2 := digitsOf(text[4:6])
	if !ok1 || !ok2 || h > 23 || m > 59 {
		return 0, false
	}
	seconds = h*3600 + m*60
	if text[0] == '-' {
		seconds = -seconds
	}
	return seconds, true
}

func two(text []byte) int { return int(text[0]-'0')*10 + int(text[1]-'0') }

func daysIn(year, month int) int {
	if month == 2 {
		if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
			return 29
		}
		return 28
	}
	return 30 + (month+month/8)&1
}

// daysSince1970 is the number of days of the proleptic Gregorian calendar from
// 1970-01-01, counted in eras of 400 years that begin in March, so that the
// leap day is the last of its year.
func daysSince1970(year, month, day int) int64 {
	if month < 3 {
		year--
		month += 12
	}
	era := year / 400
	yearOfEra := year % 400
	dayOfYear := (153*(month-3)+2)/5 + day - 1
	dayOfEra := yearOfEra*365 + yearOfEra/4 - yearOfEra/100 + dayOfYear
	return int64(era*146097+dayOfEra) - 719468
}
