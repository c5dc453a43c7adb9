package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"brinebell/collector/recording"
	"brinebell/collector/replay"
	"brinebell/detect"
	"brinebell/detect/cause"
	"brinebell/detect/engine"
)

type replayFlags struct {
	homes, format string
	strict        bool
}

func replayCommand(s streams) *cobra.Command {
	var f replayFlags
	cmd := &cobra.Command{
		Use:   "replay --homes HOMES.yaml FILE...",
		Short: "Run recordings through the detectors and print the alerts",
		Long: `Runs recordings through the same engine as live, as fast as the machine allows,
and prints the alerts in the order they were raised.

A recording is CSV with the header time,home,signal,value (time as RFC 3339 or
Unix seconds), or SenML (RFC 8428), one JSON pack a line; either may be gzipped,
and "-" is the standard input. A bad line is named on standard error and left
out; --strict stops at the first one, and at the first reading of a home that the
homes file does not have. Alerts go to standard output, everything else to
standard error.`,
		Example: `  brinebell replay --homes testdata/real/homes.yaml testdata/real/apartment.csv.gz
  brinebell replay --homes homes.yaml --format json monday.csv.gz tuesday.csv.gz`,
		Args: takes("at least one recording"),
		RunE: func(c *cobra.Command, files []string) error { return runReplay(c, s, f, files) },
	}
	cmd.Flags().StringVar(&f.homes, "homes", "", "homes file with the profile of every home (required)")
	cmd.Flags().StringVar(&f.format, "format", "text", "text, or json: one object a line")
	cmd.Flags().BoolVar(&f.strict, "strict", false, "stop at the first bad line or unknown home")
	completeFormats(cmd)
	return cmd
}

func completeFormats(cmd *cobra.Command) {
	// The only error is a flag that does not exist, and it was defined above.
	_ = cmd.RegisterFlagCompletionFunc("format", cobra.FixedCompletions([]string{"text", "json"}, cobra.ShellCompDirectiveNoFileComp))
	_ = cmd.MarkFlagFilename("homes", "yaml", "yml")
}

func runReplay(c *cobra.Command, s streams, f replayFlags, files []string) error {
	if f.homes == "" {
		return usage(c, errors.New("--homes is required: the file with the homes' profiles"))
	}
	if f.format != "text" && f.format != "json" {
		return usage(c, fmt.Errorf("--format %q: use text or json", f.format))
	}
	homes, err := readHomes(f.homes, noteTo(s.err))
	if err != nil {
		return err
	}
	line := newMeter(s.err)
	result, err := replay.Run(c.Context(), replay.Options{Homes: homes, Files: files, Strict: f.strict, Progress: showReplay(line)})
	line.clear()
	if err != nil {
		return asInputError(err)
	}
	complain(s.err, result, files)
	if f.format == "text" {
		return printText(s.out, result, homes)
	}
	if line.live { // nothing else says that it is done, and that no alert is no failure
		fmt.Fprintln(s.err, replaySummary(result, homes))
	}
	return printJSON(s.out, result.Alerts)
}

// asInputError tells input that cannot be read from a fault of ours.
func asInputError(err error) error {
	var bad *recording.BadLine
	var path *os.PathError
	if errors.As(err, &bad) || errors.As(err, &path) || errors.Is(err, recording.ErrNotRecording) {
		return inputError{err}
	}
	return err
}

func showReplay(line *meter) func(replay.Progress) {
	return func(p replay.Progress) {
		share := -1.0
		if p.All > 0 {
			share = float64(p.Bytes) / float64(p.All)
		}
		what := "replayed"
		if p.Sorting {
			what = "read, to be sorted by time first"
		}
		line.show(share, fmt.Sprintf("%s %s, at %s, %s a second", count(p.Readings, "reading"), what,
			p.At.Format("2006-01-02"), thousands(int64(float64(p.Readings)/line.elapsed().Seconds()))))
	}
}

// complain names on standard error what of the input was not used.
func complain(out io.Writer, r *replay.Result, files []string) {
	bad, in := 0, 0
	for i, b := range r.Bad {
		if bad += b.Count; b.Count > 0 {
			in++
		}
		for _, first := range b.First {
			fmt.Fprintln(out, first)
		}
		if more := b.Count - len(b.First); more > 0 {
			fmt.Fprintf(out, "%s: and %s\n", files[i], count(int64(more), "more bad line"))
		}
	}
	for _, home := range slices.Sorted(maps.Keys(r.Unknown)) {
		fmt.Fprintf(out, "home %q has no profile in the homes file: its %s left out\n", home, counted(r.Unknown[home], "reading", "was", "were"))
	}
	if n := r.Refused[engine.Implausible]; n > 0 {
		fmt.Fprintf(out, "%s left out as %s (not a number, or a time outside 2000 to 2100)\n", counted(n, "reading", "was", "were"), engine.Implausible)
	}
	if r.Sorted && !slices.Contains(files, recording.Stdin) {
		fmt.Fprintln(out, "the recording is not in order of time: it was sorted first")
	}
	if bad > 0 {
		fmt.Fprintf(out, "%s left out, in %s; everything else was read\n", counted(int64(bad), "bad line", "was", "were"), count(int64(in), "file"))
	}
}

func printJSON(out io.Writer, alerts []detect.Alert) error {
	w := bufio.NewWriter(out)
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	for _, a := range alerts {
		if err := enc.Encode(a); err != nil {
			return err
		}
	}
	return w.Flush()
}

func printText(out io.Writer, r *replay.Result, homes []detect.Home) error {
	w := bufio.NewWriter(out)
	byID := map[string]detect.Home{}
	for _, h := range homes {
		byID[h.ID] = h
	}
	for _, a := range r.Alerts {
		printAlert(w, a, byID[a.Home])
	}
	fmt.Fprintln(w, replaySummary(r, homes))
	return w.Flush()
}

func replaySummary(r *replay.Result, homes []detect.Home) string {
	used := r.Readings
	for _, n := range r.Unknown {
		used -= n
	}
	spoke := int64(0)
	for _, h := range homes {
		if !r.Books[h.ID].At.IsZero() {
			spoke++
		}
	}
	return fmt.Sprintf("%s of %s, %s, %s.", count(used, "reading"), count(spoke, "home"),
		count(int64(len(r.Regenerations)), "regeneration"), count(int64(len(r.Alerts)), "alert"))
}

// severityWords are how the severities are said to people.
var severityWords = map[detect.Severity]string{detect.ActNow: "act now", detect.ThisWeek: "this week", detect.Plan: "to plan"}

// kindWords is a kind of finding as people say it.
func kindWords(k detect.Kind) string { return strings.ReplaceAll(string(k), "_", " ") }

func printAlert(w io.Writer, a detect.Alert, h detect.Home) {
	state := "still open"
	if !a.Open() {
		state = "over " + a.Cleared.In(h.Location).Format("2006-01-02 15:04")
	}
	fmt.Fprintf(w, "%s  %s: %s (%s), since %s, %s\n", a.Raised.In(h.Location).Format("2006-01-02 15:04"), h.Name,
		kindWords(a.Kind), severityWords[a.Severity], a.Onset.In(h.Location).Format("2006-01-02 15:04"), state)
	fmt.Fprintf(w, "  %s\n", a.Summary)
	for i, c := range a.Causes {
		if i == 3 {
			break
		}
		fmt.Fprintf(w, "  %3.0f %%  %s\n", 100*c.Probability, cause.Lookup(c.Cause).Title)
	}
	if len(a.Causes) > 0 {
		fmt.Fprintf(w, "  Check: %s\n", cause.Lookup(a.Causes[0].Cause).Check)
	}
	fmt.Fprintln(w)
}
