package main

import "strconv"

// thousands writes a count in groups of three.
func thousands(n int64) string {
	if n < 0 {
		return "-" + thousands(-n)
	}
	s := strconv.FormatInt(n, 10)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// count is a number of things: 1 home, 2 homes, 10,000 readings.
func count(n int64, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return thousands(n) + " " + thing + "s"
}

// counted is a number of things and the verb that goes with it.
func counted(n int64, thing, one, many string) string {
	if n == 1 {
		return count(n, thing) + " " + one
	}
	return count(n, thing) + " " + many
}
