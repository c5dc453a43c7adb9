package main

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"brinebell/collector/recording"
	"brinebell/dashboards/scorereport"
	"brinebell/detect"
	"brinebell/detect/score"
	"brinebell/simulator/household"
)

type scoreFlags struct {
	town                   townFlags
	truth, homes, format   string
	html, alerts, baseline string
	strict                 bool
	about                  string // what is scored, in a few words
}

func scoreCommand(s streams) *cobra.Command {
	var f scoreFlags
	cmd := &cobra.Command{
		Use:   "score --truth TRUTH.csv --homes HOMES.yaml FILE...",
		Short: "Say how good the detectors are, on homes whose faults are known",
		Long: `Runs recordings through the detectors as "brinebell replay" does, and compares
the alerts with the truth: how many faults were found, how soon, with the right
cause named; how many alerts were false, per home and year; how honest the
probabilities of causes are. With --corpus homes are simulated and judged in
one pass, and no recording is written.

An alert finds a fault when its kind is one that a technician would take for it,
raised between the onset and a grace after the end. Other kinds that the fault
brings about are consequences, not false alarms. What the home's sensors cannot
show is counted beside found and missed. The rules, one row a cause, are in
detect/score/rules.go.

The first step to a better detector is to keep today's score and compare:

  brinebell score --corpus testdata/corpora/pairs.yaml --format json > before.json
  ... change the detector ...
  brinebell score --corpus testdata/corpora/pairs.yaml --baseline before.json

Tune on --split train only; a score on check is worth something as long as
nobody looked at its homes.`,
		Example: `  brinebell simulate --homes 20 --days 60 --faults each --record town.csv.gz --homes-out homes.yaml --truth truth.csv
  brinebell score --truth truth.csv --homes homes.yaml town.csv.gz
  brinebell score --corpus testdata/corpora/healthy.yaml --split check --html healthy.html
  brinebell score --corpus testdata/corpora/each-fault.yaml --homes 58 --format json`,
		Args: cobra.ArbitraryArgs,
		RunE: func(c *cobra.Command, files []string) error { return runScore(c, s, f, files) },
	}
	f.town.addCorpus(cmd)
	cmd.Flags().StringVar(&f.truth, "truth", "", "truth file: home,fault,start,end,severity")
	cmd.Flags().StringVar(&f.homes, "homes", "", "homes file with the profile of every home; with --corpus: how many homes")
	cmd.Flags().StringVar(&f.format, "format", "text", "text or json")
	cmd.Flags().StringVar(&f.html, "html", "", "page to write, with pictures")
	cmd.Flags().StringVar(&f.alerts, "alerts", "", "file to keep the alerts in, one JSON object a line")
	cmd.Flags().StringVar(&f.baseline, "baseline", "", "earlier score (--format json) to compare with, home by home")
	cmd.Flags().BoolVar(&f.strict, "strict", false, "stop at the first bad line of a recording")
	completeFormats(cmd)
	return cmd
}

func (f *scoreFlags) check(c *cobra.Command, files []string) error {
	switch {
	case f.format != "text" && f.format != "json":
		return fmt.Errorf("--format %q: use text or json", f.format)
	case f.town.corpus != "" && (f.truth != "" || len(files) > 0):
		return errors.New("--corpus brings its own homes and truth: leave out --truth and recordings")
	case f.town.corpus != "":
		return nil
	case f.truth == "" || f.homes == "" || len(files) == 0:
		return errors.New("give --truth, --homes and at least one recording; or --corpus, to simulate and judge in one pass")
	case c.Flags().Changed("split") || c.Flags().Changed("days"):
		return errors.New("--split and --days need --corpus")
	}
	return nil
}

func runScore(c *cobra.Command, s streams, f scoreFlags, files []string) error {
	if err := f.check(c, files); err != nil {
		return usage(c, err)
	}
	before, err := readBaseline(f.baseline)
	if err != nil {
		return err
	}
	f.about = strings.TrimSuffix(filepath.Base(f.truth), ".csv")
	in, err := f.input(c, s, files)
	if err != nil {
		return err
	}
	in.LeakFlow = household.LeakFlow
	in.Intn = seeded(scoreSeed).IntN
	return f.say(s, score.New(*in), before, in.Alerts)
}

// scoreSeed is that of the bootstrap: the same alerts give the same intervals.
const scoreSeed = 1

// input gathers what is judged, from recordings or from a corpus.
func (f *scoreFlags) input(c *cobra.Command, s streams, files []string) (*score.Input, error) {
	if f.town.corpus == "" {
		return scoreRecordings(c.Context(), s, f, files)
	}
	if f.homes != "" {
		n, err := strconv.Atoi(f.homes)
		if err != nil {
			return nil, usage(c, fmt.Errorf("--homes %q: with --corpus it is a number, of the corpus's first homes", f.homes))
		}
		f.town.homes = n
	}
	run, err := f.town.run(c)
	if err != nil {
		return nil, err
	}
	f.about = fmt.Sprintf("%s, %s homes", cmp.Or(run.spec.Name, filepath.Base(f.town.corpus)), run.part)
	return scoreTown(c.Context(), s, run)
}

// say writes the report in every form that was asked for.
func (f *scoreFlags) say(s streams, r *score.Report, before *score.Report, alerts []detect.Alert) error {
	var change *score.Change
	if before != nil {
		c := score.Compare(before, r)
		change = &c
	}
	if f.alerts != "" {
		if err := writeOut(s, f.alerts, func(w io.Writer) error { return printJSON(w, alerts) }); err != nil {
			return err
		}
	}
	if f.html != "" {
		page := scorereport.Page{Title: f.about, Report: r, Change: change}
		if err := writeOut(s, f.html, page.Write); err != nil {
			return err
		}
	}
	if f.format == "json" {
		return sayJSON(s.out, r, change)
	}
	if err := r.WriteText(s.out); err != nil || change == nil {
		return err
	}
	return change.WriteText(s.out)
}

// scoreJSON is a report with what changed in it.
type scoreJSON struct {
	*score.Report
	Change *score.Change `json:"change,omitempty"`
}

func sayJSON(out io.Writer, r *score.Report, change *score.Change) error {
	e := json.NewEncoder(out)
	e.SetIndent("", " ")
	return e.Encode(scoreJSON{r, change})
}

// readBaseline reads an earlier report, or nothing when there is none.
func readBaseline(path string) (*score.Report, error) {
	if path == "" {
		return nil, nil
	}
	b, err := os.ReadFile(path) // #nosec G304 -- the path is given by whoever runs the command or the service
	if err != nil {
		return nil, inputError{err}
	}
	var r score.Report
	if err := json.Unmarshal(b, &r); err != nil || r.Version != score.Version {
		return nil, inputError{fmt.Errorf("%s: not a score of this version: make one with --format json", path)}
	}
	return &r, nil
}

func readTruth(path string) ([]score.Episode, error) {
	f, err := os.Open(path) // #nosec G304 -- the path is given by whoever runs the command or the service
	if err != nil {
		return nil, inputError{err}
	}
	defer f.Close()
	all, err := score.ReadTruth(path, f)
	if err != nil {
		return nil, inputError{err}
	}
	return all, nil
}

// keepInput keeps the standard input in a file, since a score reads twice. Files
// are passed on as they are; done takes the copy away.
func keepInput(ctx context.Context, s streams, files []string) (_ []string, done func(), err error) {
	done = func() {}
	out := make([]string, len(files))
	for i, path := range files {
		out[i] = path
		if path != recording.Stdin {
			continue
		}
		t, err := os.CreateTemp("", "brinebell-score-*.csv")
		if err != nil {
			return nil, done, err
		}
		out[i] = t.Name()
		done = func() { _ = os.Remove(t.Name()) }
		_, err = io.Copy(t, s.in)
		if err = errors.Join(err, t.Close(), ctx.Err()); err != nil {
			return nil, done, err
		}
	}
	return out, done, nil
}
