package recording

import (
	"errors"
	"strings"
	"testing"
)

// Mistakes that people make with recordings are answered with what to write.
func TestMistakesAreAnswered(t *testing.T) {
	for _, c := range []struct{ line, want string }{
		{"2026-03-01T02:00:00,a,inlet_flow,1", "does not say its zone: write 2026-03-01T02:00:00Z if it is UTC"},
		{"2026-03-01 02:00,a,inlet_flow,1", "write 2026-03-01T02:00:00Z"},
		{"1767225600000,a,inlet_flow,1", "write seconds, 1767225600.000"},
		{"yesterday,a,inlet_flow,1", "neither RFC 3339"},
		{"2026-03-01T02:00:00Z,a,inlet_flwo,1", "inlet_flow is near"},
		{"2026-03-01T02:00:00Z,a,humidity,1", "the signals are inlet_flow"},
		{"2026-03-01T02:00:00Z;a;inlet_flow;1,5", "not semicolons"},
		{"2026-03-01T02:00:00Z,a,inlet_flow", "3 fields instead of 4"},
	} {
		r, err := NewReader("f.csv", strings.NewReader("time,home,signal,value\n"+c.line+"\n"), Options{Strict: true})
		if err != nil {
			t.Fatal(err)
		}
		var bad *BadLine
		if _, err := r.Next(); !errors.As(err, &bad) || !strings.Contains(bad.Why, c.want) || bad.Line != 2 {
			t.Errorf("%q: %v, want %q", c.line, err, c.want)
		}
	}
}

func TestHeaderMistakesAreAnswered(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"time;home;signal;value\n", "separated by commas"},
		{"time\thome\tsignal\tvalue\n", "separated by commas"},
		{"2026-03-01T02:00:00Z,a,inlet_flow,1\n", "put the header above it"},
		{"when,who,what,much\n", "the first line must be time,home,signal,value"},
	} {
		if _, err := NewReader("f.csv", strings.NewReader(c.text), Options{}); !errors.Is(err, ErrNotRecording) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v, want %q", c.text, err, c.want)
		}
	}
}
