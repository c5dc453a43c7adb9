package detect

import (
	"fmt"
	"strings"
)

// unknownSignal is the error about a name that is no signal's, with the signal
// that was most likely meant, or all of them when none is alike.
func unknownSignal(name string) error {
	if s, ok := NearestSignal(name); ok {
		return fmt.Errorf("unknown signal %.40q: %s is near", name, s)
	}
	return fmt.Errorf("unknown signal %.40q: the signals are %s", name, strings.Join(SignalNames(), ", "))
}

// SignalNames are the identifiers of all signals, in the order of their table.
func SignalNames() []string {
	names := make([]string, 0, NumSignals)
	for s := range NumSignals {
		names = append(names, s.String())
	}
	return names
}

// NearestSignal is the signal whose identifier is spelled most like name; ok is
// false where none is near.
func NearestSignal(name string) (s Signal, ok bool) {
	near, ok := Nearest(name, SignalNames())
	if !ok {
		return 0, false
	}
	return signalByName[near], true
}

// Nearest is the identifier among some that is spelled most like name; ok is false
// where none differs by less than a third of its letters.
func Nearest(name string, among []string) (nearest string, ok bool) {
	const longest = 60 // bytes of a name that is worth a look
	if len(name) > longest {
		return "", false
	}
	name = strings.NewReplacer("-", "_", " ", "_", ".", "_").Replace(strings.ToLower(name))
	least := 0
	for _, one := range among {
		d := edits(name, one)
		if d <= len(one)/3 && (!ok || d < least) {
			nearest, least, ok = one, d, true
		}
	}
	return nearest, ok
}

// edits is the least number of bytes to put in, take out or change that make b
// of a: V. I. Levenshtein, Soviet Physics Doklady 10 (1966), by the recursion of
// R. A. Wagner and M. J. Fischer, Journal of the ACM 21 (1974).
func edits(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		corner := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := corner
			if a[i] != b[j] {
				change++
			}
			corner = row[j+1]
			row[j+1] = min(change, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
