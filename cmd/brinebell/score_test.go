package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"brinebell/detect"
	"brinebell/detect/score"
)

func scoreOf(t *testing.T, text string) score.Report {
	t.Helper()
	var r score.Report
	if err := json.Unmarshal([]byte(text), &r); err != nil {
		t.Fatalf("%v in %.300s", err, text)
	}
	return r
}

// From a simulated recording to a score, and the same from the alerts that a
// replay prints.
func TestSimulateReplayScore(t *testing.T) {
	record, homes, truth := simulated(t)
	dir := t.TempDir()
	kept, html := filepath.Join(dir, "alerts.json"), filepath.Join(dir, "score.html")
	replayed := must(t, "replay", "--homes", homes, "--format", "json", record)
	out := must(t, "score", "--truth", truth, "--homes", homes, "--format", "json", "--alerts", kept, "--html", html, record)
	if b, err := os.ReadFile(kept); err != nil || string(b) != replayed {
		t.Errorf("%v: kept\n%s\nreplayed\n%s", err, b, replayed)
	}
	r := scoreOf(t, out)
	if r.Homes != 2 || r.Years < 5.9/365.25 || r.Years > 6/365.25 || len(r.Alerts) != strings.Count(replayed, "\n") {
		t.Errorf("%d homes, %.4f years, %d alerts", r.Homes, r.Years, len(r.Alerts))
	}
	faults := map[detect.Cause]int{}
	for _, f := range r.Faults {
		faults[f.Fault] = f.Episodes
	}
	if faults[detect.FlapperLeak] != 1 || faults[detect.SaltEmpty] != 1 {
		t.Errorf("%v", faults)
	}
	if b, err := os.ReadFile(html); err != nil || !bytes.Contains(b, []byte("<svg")) {
		t.Errorf("%v: a page of %d bytes", err, len(b))
	}
	if text := must(t, "score", "--truth", truth, "--homes", homes, record); !strings.Contains(text, "flapper_leak") || !strings.Contains(text, "False alarms per home-year") {
		t.Error(text)
	}
}

// A recording on the standard input is scored as the file is.
func TestScoreReadsTheStandardInput(t *testing.T) {
	record, homes, truth := simulated(t)
	want := must(t, "score", "--truth", truth, "--homes", homes, record)
	in, err := os.Open(record)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	var out, errOut bytes.Buffer
	if code := run(context.Background(), []string{"score", "--truth", truth, "--homes", homes, "-"}, in, &out, &errOut); code != exitDone || out.String() != want {
		t.Errorf("exit %d, %s\n%s\nwant\n%s", code, &errOut, &out, want)
	}
}

// Judging while simulating must give what judging the recording gives, late and
// repeated readings and wrong clocks included, on any number of cores.
func TestOnePassEqualsRecording(t *testing.T) {
	const corpus = "../../testdata/corpora/sensor-trouble.yaml"
	dir := t.TempDir()
	path := func(name string) string { return filepath.Join(dir, name) }
	part := []string{"--corpus", corpus, "--homes", "4", "--days", "16"}
	must(t, append([]string{"simulate", "--record", path("r.csv"), "--homes-out", path("h.yaml"), "--truth", path("t.csv")}, part...)...)
	must(t, "score", "--truth", path("t.csv"), "--homes", path("h.yaml"), "--alerts", path("recorded.json"), path("r.csv"))
	want, err := os.ReadFile(path("recorded.json"))
	if err != nil {
		t.Fatal(err)
	}
	var report string
	for _, cores := range []int{1, 3} {
		before := runtime.GOMAXPROCS(cores)
		out := must(t, append([]string{"score", "--alerts", path("pass.json"), "--format", "json"}, part...)...)
		runtime.GOMAXPROCS(before)
		got, err := os.ReadFile(path("pass.json"))
		if err != nil || !bytes.Equal(got, want) {
			t.Errorf("on %d cores: %v\n%s\nrecorded\n%s", cores, err, got, want)
		}
		if report != "" && out != report {
			t.Error("the report depends on the number of cores")
		}
		report = out
	}
}

func TestScoreAgainstBaseline(t *testing.T) {
	part := []string{"score", "--corpus", "../../testdata/corpora/healthy.yaml", "--homes", "2", "--days", "4"}
	base := filepath.Join(t.TempDir(), "base.json")
	if err := os.WriteFile(base, []byte(must(t, append(part, "--format", "json")...)), 0o600); err != nil {
		t.Fatal(err)
	}
	text := must(t, append(part, "--baseline", base)...)
	for _, want := range []string{"Against the baseline", "Found now: 0\n", "Found no more: 0\n", "False alarms that came: 0\n", "False alarms that went: 0\n"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
}

func TestScoreSaysWhatToDo(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	homes := write("homes.yaml", "homes:\n  - id: a\n    timezone: Europe/Dublin\n")
	truth := write("truth.csv", "home,fault,start,end,severity\n")
	flood := write("flood.csv", "home,fault,start,end,severity\na,flood,2025-03-05T10:00:00Z,2025-03-06T10:00:00Z,1\n")
	const corpus = " --corpus ../../testdata/corpora/healthy.yaml"
	for _, c := range []struct{ args, want string }{
		{"", "give --truth, --homes and at least one recording; or --corpus"},
		{"--truth " + truth + " --homes " + homes, "at least one recording"},
		{"--truth " + truth + " --homes " + homes + " nowhere.csv", "nowhere.csv: no such file"},
		{"--truth " + truth + " --homes nowhere.yaml x.csv", "nowhere.yaml: no such file"},
		{"--truth " + flood + " --homes " + homes + " x.csv", `flood.csv:2: unknown fault "flood"`},
		{"--truth " + homes + " --homes " + homes + " x.csv", "not a truth file: the first line must be home,fault,start,end,severity"},
		{"--truth " + truth + " --homes " + homes + " " + truth, "not a recording"},
		{"--truth " + truth + corpus, "--corpus brings its own homes and truth"},
		{"--homes many" + corpus, `--homes "many": with --corpus it is a number`},
		{"--homes 0" + corpus, "--homes: simulate at least one"},
		{"--split test" + corpus, "use train or check"},
		{"--format xml" + corpus, `--format "xml": use text or json`},
		{"--baseline " + truth + corpus, "not a score of this version: make one with --format json"},
		{"--days 3 --truth " + truth + " --homes " + homes + " x.csv", "need --corpus"},
	} {
		code, _, errOut := command(t, append([]string{"score"}, strings.Fields(c.args)...)...)
		if code != exitUsage || !strings.Contains(errOut, c.want) {
			t.Errorf("score %s: exit %d, %q, want %q", c.args, code, errOut, c.want)
		}
	}
}

// A clock that once said 2099 has not watched the home until then.
func TestCoverageLeavesStrayReadingsOut(t *testing.T) {
	path := filepath.Join(t.TempDir(), "stray.csv")
	text := "time,home,signal,value\n"
	for day := range 10 {
		for hour := range 200 {
			text += "2025-03-" + string(rune('0'+(day+10)/10)) + string(rune('0'+(day+10)%10)) + "T" + twoDigits(hour/10) + ":" + twoDigits(hour%10) + ":00Z,a,brine_level,200\n"
		}
	}
	text += "2099-01-01T00:00:00Z,a,battery,50\n"
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	all, err := coverageOf(context.Background(), []string{path})
	if err != nil {
		t.Fatal(err)
	}
	x := all["a"].exposure("a")
	if got := x.To.Format("2006-01-02T15:04"); got != "2025-03-19T19:09" || x.From.Format("2006-01-02T15:04") != "2025-03-10T00:00" {
		t.Errorf("%+v", x)
	}
	if s := all["a"].list(); len(s) != 2 || s[0] != detect.BrineLevel || s[1] != detect.Battery {
		t.Errorf("%v", s)
	}
}

func twoDigits(n int) string { return string([]byte{'0' + byte(n/10), '0' + byte(n%10)}) }

func TestScoreStopsWhenAsked(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if code := run(ctx, []string{"score", "--corpus", "../../testdata/corpora/pairs.yaml", "--homes", "3"}, nil, io.Discard, io.Discard); code != exitFail {
		t.Errorf("exit %d", code)
	}
}
