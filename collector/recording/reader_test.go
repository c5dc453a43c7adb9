package recording

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/klauspost/compress/gzip"

	"brinebell/detect"
)

func readAll(t *testing.T, r *Reader) ([]detect.Reading, error) {
	t.Helper()
	var got []detect.Reading
	for {
		reading, err := r.Next()
		if errors.Is(err, io.EOF) {
			return got, nil
		}
		if err != nil {
			return got, err
		}
		got = append(got, reading)
	}
}

func readText(t *testing.T, name, text string, opts Options) ([]detect.Reading, *Reader, error) {
	t.Helper()
	r, err := NewReader(name, strings.NewReader(text), opts)
	if err != nil {
		return nil, r, err
	}
	got, err := readAll(t, r)
	return got, r, err
}

func TestReadsBothTimeForms(t *testing.T) {
	got, r, err := readText(t, "a.csv", "time,home,signal,value\r\n"+
		"2026-03-01T12:00:00.25+01:00,mill-lane-4,inlet_flow,8.5\r\n"+
		"1772362800.2509,mill-lane-4,inlet_volume,\"1e3\"\n"+
		"\n"+
		"1.77236280025e9, mill-lane-4 ,brine_level,-2", Options{})
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 3, 1, 11, 0, 0, 250e6, time.UTC)
	want := []detect.Reading{
		{Home: "mill-lane-4", Signal: detect.InletFlow, Time: at, Value: 8.5},
		{Home: "mill-lane-4", Signal: detect.InletVolume, Time: at, Value: 1000},
		{Home: "mill-lane-4", Signal: detect.BrineLevel, Time: at, Value: -2},
	}
	expect(t, got, want)
	if r.Bad().Count != 0 {
		t.Errorf("bad lines %v", r.Bad().First)
	}
}

func expect(t *testing.T, got, want []detect.Reading) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%d readings %v, want %d", len(got), got, len(want))
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("reading %d is %v, want %v", i, got[i], want[i])
		}
	}
}

func TestNamesBadLinesAndGoesOn(t *testing.T) {
	got, r, err := readText(t, "a.csv", "time,home,signal,value\n"+
		"yesterday,h,inlet_flow,1\n"+
		"1772362800,H,inlet_flow,1\n"+
		"1772362800,,inlet_flow,1\n"+
		"1772362800,h,inlet_flaw,1\n"+
		"1772362800,h,inlet_flow,NaN\n"+
		"1772362800,h,inlet_flow,0x10\n"+
		"1772362800,h,inlet_flow,1e999\n"+
		"1772362800,h,inlet_flow\n"+
		"1772362800,h,inlet_flow,1,2\n"+
		"86400,h,inlet_flow,1\n"+
		"1772362800,h,inlet_flow,1\n", Options{KeepBad: 9})
	if err != nil || len(got) != 1 {
		t.Fatalf("%v %v, want the one good reading", got, err)
	}
	if n := r.Bad().Count; n != 10 || len(r.Bad().First) != 9 {
		t.Errorf("%d bad lines and %d kept, want 10 and 9", n, len(r.Bad().First))
	}
	for i, b := range r.Bad().First {
		if b.Line != i+2 || b.Why == "" {
			t.Errorf("bad line %d is %v", i, b)
		}
	}
	want := `a.csv:5: unknown signal "inlet_flaw": inlet_flow is near`
	if got := r.Bad().First[3].Error(); got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestStrictStopsAtTheFirstBadLine(t *testing.T) {
	got, _, err := readText(t, "a.csv", "time,home,signal,value\n1772362800,h,inlet_flow,1\nx\n1772362800,h,inlet_flow,1\n", Options{Strict: true})
	var bad *BadLine
	if !errors.As(err, &bad) || bad.Line != 3 || len(got) != 1 {
		t.Errorf("%v after %d readings, want a bad line 3 after 1", err, len(got))
	}
}

func TestRefusesWhatIsNoRecording(t *testing.T) {
	_, _, err := readText(t, "a.csv", "some,other,file\n1,2,3\n", Options{})
	if !errors.Is(err, ErrNotRecording) {
		t.Errorf("%v, want %v", err, ErrNotRecording)
	}
	if _, err := Open(filepath.Join(t.TempDir(), "none.csv"), Options{}); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("%v for a file that is not there", err)
	}
	if got, _, err := readText(t, "empty.csv", "", Options{}); err != nil || len(got) != 0 {
		t.Errorf("%v %v for an empty file", got, err)
	}
}

func TestLineTooLong(t *testing.T) {
	long := strings.Repeat("x", readAhead+10)
	got, r, err := readText(t, "a.csv", "time,home,signal,value\n"+long+"\n1772362800,h,inlet_flow,1\n", Options{MaxLine: 1000})
	if err != nil || len(got) != 1 || r.Bad().Count != 1 {
		t.Errorf("%v %v %v, want one reading and one bad line", got, err, r.Bad())
	}
}

func TestReadsSenMLLines(t *testing.T) {
	text := `[{"bn":"mill-lane-4/meter/","bt":1772362800.25,"n":"inlet_flow","u":"l/s","v":0.5},{"n":"inlet_volume","u":"m3","v":2}]
[{"bn":"mill-lane-4/tank/","n":"brine_level","u":"mm","t":1772362801,"v":210},{"n":"brine_level","u":"gal","v":1}]
{
[{"bn":"mill-lane-4/tank/","n":"brine_level","u":"mm","t":-5,"v":210}]
`
	got, r, err := readText(t, "a", text, Options{})
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 3, 1, 11, 0, 0, 250e6, time.UTC)
	expect(t, got, []detect.Reading{
		{Home: "mill-lane-4", Signal: detect.InletFlow, Time: at, Value: 30},
		{Home: "mill-lane-4", Signal: detect.InletVolume, Time: at, Value: 2000},
		{Home: "mill-lane-4", Signal: detect.BrineLevel, Time: at.Add(750 * time.Millisecond), Value: 210},
	})
	if r.Bad().Count != 3 || r.Bad().First[0].Line != 2 || r.Bad().First[1].Line != 3 || r.Bad().First[2].Line != 4 {
		t.Errorf("bad lines %v, want lines 2, 3 and 4", r.Bad().First)
	}
}

func TestDamagedGzip(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.csv.gz")
	writeFile(t, path, sample(20000))
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, data[:len(data)/2], 0o600); err != nil {
		t.Fatal(err)
	}
	r, err := Open(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	got, err := readAll(t, r)
	if !errors.Is(err, io.ErrUnexpectedEOF) || len(got) == 0 {
		t.Errorf("%d readings and %v, want some and an unexpected end", len(got), err)
	}
}

func TestGzipIsSeenFromContent(t *testing.T) {
	var b strings.Builder
	zip := gzip.NewWriter(&b)
	if _, err := io.WriteString(zip, "\xef\xbb\xbftime,home,signal,value\n1772362800,h,inlet_flow,1\n"); err != nil {
		t.Fatal(err)
	}
	if err := zip.Close(); err != nil {
		t.Fatal(err)
	}
	got, r, err := readText(t, "stdin", b.String(), Options{})
	if err != nil || len(got) != 1 || r.BytesRead() != int64(b.Len()) {
		t.Errorf("%v %v after %d bytes, want one reading after %d", got, err, r.BytesRead(), b.Len())
	}
}
