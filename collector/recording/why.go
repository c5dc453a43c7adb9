package recording

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"brinebell/detect"
)

// badTime says what is wrong with a time, and how to write it.
func badTime(text []byte) string {
	for _, form := range []string{"2006-01-02T15:04:05", "2006-01-02 15:04:05", "2006-01-02T15:04", "2006-01-02 15:04"} {
		if t, err := time.Parse(form, string(text)); err == nil {
			utc := t.Format("2006-01-02T15:04:05")
			return fmt.Sprintf("time %.40q does not say its zone: write %sZ if it is UTC, or the offset, as in %[2]s+01:00", text, utc)
		}
	}
	if _, err := time.Parse(time.RFC3339, string(text)); err == nil {
		return fmt.Sprintf("time %.40q is a leap second, or outside of what can be told", text)
	}
	if ms, ok := parseNumber(text); ok && ms >= 1e12 && ms < 1e14 {
		return fmt.Sprintf("time %.40q looks like milliseconds: write seconds, %.3f", text, ms/1000)
	}
	return fmt.Sprintf("time %.40q is neither RFC 3339, as in 2026-03-01T02:00:00Z, nor Unix seconds", text)
}

// badSignal says which signal was likely meant. A file that is wrong is wrong in
// the same way for millions of lines, so the last answer is kept.
func (r *Reader) badSignal(name []byte) string {
	if string(name) != r.noSignal[0] || r.noSignal[1] == "" {
		_, err := detect.ParseSignal(string(name))
		r.noSignal = [2]string{string(name), err.Error()}
	}
	return r.noSignal[1]
}

func badFields(line []byte) string {
	if bytes.Count(line, []byte{';'}) == 3 {
		return "fields are separated by commas, not semicolons, and a number has a decimal point"
	}
	return fmt.Sprintf("%d fields instead of 4: time,home,signal,value", 1+bytes.Count(line, []byte{','}))
}

// badHeader adds to ErrNotRecording what the first line looks like.
func badHeader(line []byte) string {
	plain := strings.ToLower(strings.NewReplacer(" ", "", `"`, "").Replace(string(line)))
	for _, separator := range []string{";", "\t"} {
		if strings.Join(strings.Split(plain, separator), ",") == "time,home,signal,value" {
			return "; the fields must be separated by commas, and a number has a decimal point"
		}
	}
	if first, _, ok := strings.Cut(plain, ","); ok && first != "time" && strings.Count(plain, ",") == 3 {
		if _, ok := parseTime([]byte(first)); ok {
			return "; the first line is already a reading: put the header above it"
		}
	}
	return ""
}
