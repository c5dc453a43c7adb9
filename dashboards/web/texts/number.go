package texts

import (
	"math"
	"strconv"
	"strings"
	"time"
)

// Number keeps three digits that count below a thousand and groups thousands
// above; what is not a number is said to be not measured.
func (t *Tongue) Number(v float64) string {
	size := math.Abs(v)
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0):
		return t.Say("number.none")
	case size < 0.0005:
		return "0"
	case size >= 99.95:
		return t.Grouped(math.Round(v))
	case size >= 9.95:
		return t.Rounded(v, 1)
	case size >= 0.9995:
		return t.Rounded(v, 2)
	}
	return t.Rounded(v, 3)
}

// Rounded writes at most so many decimals, without needless zeros.
func (t *Tongue) Rounded(v float64, decimals int) string {
	text := strconv.FormatFloat(v, 'f', decimals, 64)
	whole, part, _ := strings.Cut(text, ".")
	if part = strings.TrimRight(part, "0"); part != "" {
		part = t.point + part
	}
	return t.thousands(whole) + part
}

// Fixed writes exactly so many decimals, as amounts of money need.
func (t *Tongue) Fixed(v float64, decimals int) string {
	whole, part, _ := strings.Cut(strconv.FormatFloat(v, 'f', decimals, 64), ".")
	if part != "" {
		part = t.point + part
	}
	return t.thousands(whole) + part
}

// Grouped writes a whole number, its thousands apart.
func (t *Tongue) Grouped(v float64) string {
	return t.thousands(strconv.FormatFloat(v, 'f', 0, 64))
}

func (t *Tongue) thousands(whole string) string {
	digits := strings.TrimPrefix(whole, "-")
	sign := whole[:len(whole)-len(digits)]
	for i := len(digits) - 3; i > 0; i -= 3 {
		digits = digits[:i] + t.group + digits[i:]
	}
	return sign + digits
}

// Tick writes a value beside a scale: all its digits, as few as it needs.
func (t *Tongue) Tick(v float64) string {
	if math.Abs(v) < 1e-12 {
		return "0"
	}
	whole, part, found := strings.Cut(strconv.FormatFloat(v, 'f', 6, 64), ".")
	if part = strings.TrimRight(part, "0"); found && part != "" {
		part = t.point + part
	}
	return t.thousands(whole) + part
}

// Day writes a day as in "Tue 24 Nov", or as the United States write it.
func (t *Tongue) Day(at time.Time, us bool) string {
	key := "date.day"
	if us {
		key = "date.day.us"
	}
	return t.Say(key, "day", t.Weekday(at.Weekday()), "n", strconv.Itoa(at.Day()), "month", t.months[at.Month()-1])
}

// Weekday is the short name of a day of the week.
func (t *Tongue) Weekday(d time.Weekday) string { return t.days[d] }

// WholeWeekday is the name of a day of the week in full.
func (t *Tongue) WholeWeekday(d time.Weekday) string { return t.List("date.weekdays")[d] }
