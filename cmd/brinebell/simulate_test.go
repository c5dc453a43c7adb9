package main

import (
	"bytes"
	"context"
	"io"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"brinebell/collector/intake"
	"brinebell/collector/link"
)

// command runs the program and returns what it wrote.
func command(t *testing.T, args ...string) (code int, out, errOut string) {
	t.Helper()
	var o, e bytes.Buffer
	code = run(context.Background(), args, strings.NewReader(""), &o, &e)
	return code, o.String(), e.String()
}

// must runs the program, which must succeed.
func must(t *testing.T, args ...string) string {
	t.Helper()
	code, out, errOut := command(t, args...)
	if code != exitDone {
		t.Fatalf("brinebell %s: exit %d\n%s", strings.Join(args, " "), code, errOut)
	}
	return out
}

// simulated writes two homes of three days, the first with a cistern that runs,
// and returns the paths.
func simulated(t *testing.T) (record, homes, truth string) {
	t.Helper()
	dir := t.TempDir()
	record, homes, truth = filepath.Join(dir, "town.csv.gz"), filepath.Join(dir, "homes.yaml"), filepath.Join(dir, "truth.csv")
	out := must(t, "simulate", "--homes", "2", "--days", "3", "--seed", "5", "--interval", "60s", "--faults", "flapper_leak:0.9,salt_empty",
		"--record", record, "--homes-out", homes, "--truth", truth)
	if out != "" {
		t.Errorf("wrote %q", out)
	}
	return record, homes, truth
}

func TestSimulateWritesTheSameBytesOnAnyNumberOfCores(t *testing.T) {
	var want [][]byte
	for _, cores := range []int{1, 2, 5} {
		before := runtime.GOMAXPROCS(cores)
		record, homes, truth := simulated(t)
		runtime.GOMAXPROCS(before)
		for i, path := range []string{record, homes, truth} {
			b, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if cores == 1 {
				want = append(want, b)
			} else if !bytes.Equal(b, want[i]) {
				t.Errorf("%s differs on %d cores", filepath.Base(path), cores)
			}
		}
	}
	if len(want[0]) < 10_000 {
		t.Errorf("a recording of %d bytes", len(want[0]))
	}
}

func TestSimulateToTheStandardOutput(t *testing.T) {
	out := must(t, "simulate", "--homes", "1", "--days", "1", "--interval", "10m", "--record", "-")
	if !strings.HasPrefix(out, "time,home,signal,value\n") || strings.Count(out, "\n") < 500 {
		t.Errorf("%.200q", out)
	}
	if out := must(t, "simulate", "--homes", "1", "--days", "9", "--faults", "seals_worn:0.4", "--truth", "-"); !strings.Contains(out, "home-0001,seals_worn,2025-03-0") || !strings.Contains(out, ",0.400\n") {
		t.Errorf("%q", out)
	}
}

// Flags overrule what a corpus says, and its parts differ.
func TestSimulateCorpus(t *testing.T) {
	const file = "../../testdata/corpora/each-fault.yaml"
	train := must(t, "simulate", "--corpus", file, "--homes", "3", "--days", "20", "--truth", "-")
	check := must(t, "simulate", "--corpus", file, "--homes", "3", "--days", "20", "--split", "check", "--truth", "-")
	if train == check || !strings.Contains(train, "home-0003,supply_line_leak,") || strings.Contains(train, "home-0004") {
		t.Errorf("train\n%s\ncheck\n%s", train, check)
	}
}

func TestSimulateSaysWhatToDo(t *testing.T) {
	dir := t.TempDir()
	for _, c := range []struct {
		args string
		want string
	}{
		{"", "nothing to write: give --record, --homes-out, --truth or --broker"},
		{"--truth - --homes 0", "homes: a corpus needs at least one"},
		{"--truth - --faults flood", `unknown fault "flood": use none, each, pairs, mix, flapper_leak`},
		{"--truth - --faults flapper_leak:2", "not between 0 and 1"},
		{"--truth - --record -", `two outputs to "-": give each its own file`},
		{"--truth - --split check", "--split needs --corpus"},
		{"--truth - --corpus ../../testdata/corpora/pairs.yaml --seed 4", "has its own seeds; choose with --split"},
		{"--truth - --corpus ../../testdata/corpora/pairs.yaml --split test", `unknown part "test" of a corpus: use train or check`},
		{"--truth - --corpus nowhere.yaml", "nowhere.yaml: no such file"},
		{"--truth - --start yesterday", `--start "yesterday" is not a day, as in 2025-03-01`},
		{"--truth - --interval 2h", "--interval: between 1s and 1h"},
		{"--truth - --speed 3", "--speed needs --broker"},
		{"--broker tcp://127.0.0.1:1 --speed -1", "--speed cannot be less than nothing"},
		{"--record " + dir + "/no/such/folder.csv", "no such file"},
		{"--truth - something", `simulate takes no arguments, found "something"`},
	} {
		code, _, errOut := command(t, append([]string{"simulate"}, strings.Fields(c.args)...)...)
		if code != exitUsage || !strings.Contains(errOut, c.want) {
			t.Errorf("simulate %s: exit %d, %q, want %q", c.args, code, errOut, c.want)
		}
	}
}

// Half a recording looks like a whole one, so none is left.
func TestSimulateLeavesNoHalfRecording(t *testing.T) {
	path := filepath.Join(t.TempDir(), "half.csv")
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if code := run(ctx, []string{"simulate", "--homes", "1", "--days", "2", "--record", path}, nil, io.Discard, io.Discard); code != exitFail {
		t.Errorf("exit %d", code)
	}
	if _, err := os.Stat(path); !os.IsNotExist(err) {
		t.Errorf("%v", err)
	}
}

// Simulated time meets the clock on the wall at the end of the run and never
// passes it.
func TestLiveStart(t *testing.T) {
	now := time.Date(2026, 5, 10, 9, 30, 42, 0, time.UTC)
	for _, c := range []struct {
		days  int
		speed float64
		back  time.Duration
	}{{30, 1, 0}, {30, 60, 708 * time.Hour}, {30, 0, 720 * time.Hour}, {30, 0.5, 0}, {1, 2, 12 * time.Hour}} {
		start := liveStart(now, c.days, c.speed)
		if late := now.Sub(start) - c.back; late < 0 || late >= time.Minute {
			t.Errorf("%d days at %v: %s", c.days, c.speed, start)
		}
		if c.speed > 0 { // the last reading when it is sent
			takes := time.Duration(float64(c.days) * 24 * float64(time.Hour) / c.speed)
			if start.AddDate(0, 0, c.days).After(now.Add(takes)) && c.speed >= 1 {
				t.Errorf("%d days at %v end after the wall's clock", c.days, c.speed)
			}
		}
	}
}

// heard keeps what a broker's clients publish.
type heard struct {
	mu     sync.Mutex // guards topics; clients come from several goroutines
	topics map[string]int
}

func TestSimulateLive(t *testing.T) {
	h := &heard{topics: map[string]int{}}
	address := listen(t, h)
	must(t, "simulate", "--homes", "2", "--days", "1", "--interval", "5m", "--speed", "0", "--broker", "tcp://"+address, "--truth", filepath.Join(t.TempDir(), "truth.csv"))
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, topic := range []string{"homes/home-0001/sensors/hub", "homes/home-0002/sensors/hub"} {
		if h.topics[topic] < 50 {
			t.Errorf("%d packs on %s of %v", h.topics[topic], topic, h.topics)
		}
	}
	code, _, errOut := command(t, "simulate", "--homes", "1", "--days", "1", "--broker", "tcp://127.0.0.1:1")
	if code != exitFail || !strings.Contains(errOut, "Is a broker running there?") {
		t.Errorf("exit %d, %q", code, errOut)
	}
}

// listen runs a broker until the test ends and returns its address.
func listen(t *testing.T, h *heard) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	b, err := link.NewBroker(link.BrokerOptions{Listener: l, Wants: func(string) bool { return true },
		Offer: func(_ context.Context, m intake.Message) error {
			h.mu.Lock()
			defer h.mu.Unlock()
			h.topics[m.Topic]++
			m.Done(nil)
			return nil
		}})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- b.Run(ctx) }()
	t.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	return l.Addr().String()
}
