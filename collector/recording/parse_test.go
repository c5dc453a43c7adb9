package recording

import (
	"fmt"
	"math"
	"strconv"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// The standard library is the reference for numbers and times.

func TestParseNumberIsStrconv(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(
			rapid.StringMatching(`-?[0-9]{0,18}\.?[0-9]{0,18}`),
			rapid.StringMatching(`[-+]?[0-9]{1,3}\.?[0-9]{0,3}[eE][-+]?[0-9]{1,3}`),
			rapid.StringMatching(`[-+.eE0-9]{0,6}`),
		).Draw(t, "text")
		want, err := strconv.ParseFloat(text, 64)
		got, ok := parseNumber([]byte(text))
		if ok != (err == nil) || ok && got != want {
			t.Fatalf("%q is %v %v, want %v %v", text, got, ok, want, err)
		}
	})
}

func TestParseTimeIsTimeParse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(
			rapid.Custom(func(t *rapid.T) string {
				at := time.UnixMicro(rapid.Int64Range(-62000000000e6, 253402300799e6).Draw(t, "us")).UTC()
				return at.In(time.FixedZone("", 60*rapid.IntRange(-1439, 1439).Draw(t, "zone"))).Format(time.RFC3339Nano)
			}),
			rapid.StringMatching(`(19|20)[0-9]{2}-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-6][0-9]:[0-6][0-9](\.[0-9]{0,9})?(Z|[-+][01][0-9]:[0-5][0-9])`),
		).Draw(t, "text")
		want, err := time.Parse(time.RFC3339, text)
		got, ok := parseTime([]byte(text))
		if ok != (err == nil) || ok && got != time.UnixMilli(floorMilli(want)).UTC() {
			t.Fatalf("%q is %v %v, want %v %v", text, got, ok, want, err)
		}
	})
}

// floorMilli cuts the time's own fraction to the millisecond.
func floorMilli(t time.Time) int64 {
	return t.Unix()*1000 + int64(t.Nanosecond())/1e6
}

func TestParseUnix(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ms := rapid.Int64Range(0, 1<<42).Draw(t, "ms")
		want := time.UnixMilli(ms).UTC()
		for _, text := range []string{
			fmt.Sprintf("%d.%03d", ms/1000, ms%1000),
			fmt.Sprintf("%d.%03d999", ms/1000, ms%1000),
			strconv.FormatFloat(float64(ms)/1000, 'e', -1, 64),
		} {
			if got, ok := parseTime([]byte(text)); !ok || got != want {
				t.Fatalf("%q is %v %v, want %v", text, got, ok, want)
			}
		}
	})
	for _, text := range []string{"", ".", "1.", "-1", "1e300", "nan", "1.2.3", "+", "99999999999999999999"} {
		if got, ok := parseTime([]byte(text)); ok && text != "1." {
			t.Errorf("%q is %v", text, got)
		}
	}
}

func TestEveryDayOfTheCalendar(t *testing.T) {
	for day := time.Date(1999, 12, 31, 0, 0, 0, 0, time.UTC); day.Year() < 2101; day = day.AddDate(0, 0, 1) {
		if got := daysSince1970(day.Year(), int(day.Month()), day.Day()); got != day.Unix()/86400 {
			t.Fatalf("%v is day %d, want %d", day, got, day.Unix()/86400)
		}
	}
	if math.MaxInt64>>12 < 1<<40*1000 {
		t.Fatal("the largest time overflows")
	}
}
