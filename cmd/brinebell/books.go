package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"brinebell/collector/recording"
	"brinebell/collector/replay"
	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/regeneration"
)

type booksFlags struct {
	homes, config, format string
	picture, at           string
	strict                bool
}

// account is one home's books with its regenerations, the oldest first.
type account struct {
	home          detect.Home
	books         books.Books
	regenerations []bookedRegeneration
}

// bookedRegeneration is a regeneration with what the books say of it; nil when
// it was not booked.
type bookedRegeneration struct {
	record regeneration.Record
	entry  *books.Entry
}

func booksCommand(s streams) *cobra.Command {
	var f booksFlags
	cmd := &cobra.Command{
		Use:   "books HOME (--homes HOMES.yaml FILE... | --config FILE)",
		Short: "Show a home's books: water, capacity, salt, and every regeneration on record",
		Long: `Shows what is known of a home's softener: the water through it, the capacity left
and when the next regeneration is due, the salt in the tank with the day it runs
out, how much of the salt the water use explains, and a table of regenerations.

The books are worked out from recordings (--homes and files, as in "brinebell
replay"), or read from what "brinebell serve" has stored (--config), also while
it runs.

What no sensor saw is "not seen" in text, null in JSON and empty in CSV, and never
zero. Salt that no sensor weighed is the programme's dose, and marked so. Text is
in the household's units; JSON and CSV are in L, kg, mm and
minutes, times in UTC. CSV has one row a regeneration.

--picture draws one regeneration, drain flow above brine level with the phases
shaded, from the recordings or from what is stored.`,
		Example: `  brinebell simulate --homes 1 --days 30 --faults none --record town.csv.gz --homes-out homes.yaml
  brinebell books home-0001 --homes homes.yaml town.csv.gz
  brinebell books home-0001 --homes homes.yaml --format csv town.csv.gz
  brinebell books home-0001 --homes homes.yaml --picture night.svg --at 2025-03-09 town.csv.gz
  brinebell books mill-lane-4 --config brinebell.yaml --format json
  brinebell books mill-lane-4 --config brinebell.yaml --picture last-night.svg`,
		Args: takes("the id of a home"),
		RunE: func(c *cobra.Command, args []string) error { return runBooks(c, s, f, args[0], args[1:]) },
	}
	flags := cmd.Flags()
	flags.StringVar(&f.homes, "homes", "", "homes file with the profile of the home")
	flags.StringVar(&f.config, "config", "", `configuration file of "brinebell serve", to read what it stored`)
	flags.StringVar(&f.format, "format", "text", "text, json or csv")
	flags.StringVar(&f.picture, "picture", "", "SVG file to draw one regeneration into, instead of the text")
	flags.StringVar(&f.at, "at", "", "the regeneration to draw: its day or time, as in 2025-03-09 or \"2025-03-09 02:00\"; the newest when empty")
	flags.BoolVar(&f.strict, "strict", false, "stop at the first bad line")
	_ = cmd.RegisterFlagCompletionFunc("format", cobra.FixedCompletions([]string{"text", "json", "csv"}, cobra.ShellCompDirectiveNoFileComp))
	_ = cmd.MarkFlagFilename("homes", "yaml", "yml")
	_ = cmd.MarkFlagFilename("config", "yaml", "yml")
	_ = cmd.MarkFlagFilename("picture", "svg")
	return cmd
}

// check finds what the flags do not agree on.
func (f *booksFlags) check(files []string) error {
	switch {
	case f.homes == "" && f.config == "":
		return errors.New("give --homes with recordings, or --config to read what is stored")
	case f.homes != "" && f.config != "":
		return errors.New("--homes and --config: give one of them")
	case f.config != "" && len(files) > 0:
		return errors.New("--config reads what is stored: it takes no recordings")
	case f.homes != "" && len(files) == 0:
		return errors.New("--homes needs recordings to work the books out from")
	case !slices.Contains([]string{"text", "json", "csv"}, f.format):
		return fmt.Errorf("--format %q: use text, json or csv", f.format)
	case f.picture == "" && f.at != "":
		return errors.New("--at needs --picture, the file to draw into")
	case f.picture != "" && slices.Contains(files, recording.Stdin):
		return errors.New("--picture needs recordings in files, which it reads once more")
	}
	return nil
}

func runBooks(c *cobra.Command, s streams, f booksFlags, id string, files []string) error {
	if err := f.check(files); err != nil {
		return usage(c, err)
	}
	a, err := f.account(c.Context(), s, id, files)
	if err != nil {
		return err
	}
	switch {
	case f.picture != "":
		return a.draw(c.Context(), s, f, f.source(id, files))
	case f.format == "json":
		return a.writeJSON(s.out)
	case f.format == "csv":
		return a.writeCSV(s.out)
	}
	return a.writeText(s.out)
}

// readings gives a home's readings of a span of time, in order.
type readings func(ctx context.Context, from, to time.Time) ([]detect.Reading, error)

// source is where the picture's readings come from.
func (f *booksFlags) source(id string, files []string) readings {
	if f.config != "" {
		return storedReadings(f.config, id)
	}
	return recordedReadings(files, id)
}

func (f *booksFlags) account(ctx context.Context, s streams, id string, files []string) (*account, error) {
	if f.config != "" {
		return storedAccount(ctx, f.config, id)
	}
	homes, err := readHomes(f.homes, noteTo(s.err))
	if err != nil {
		return nil, err
	}
	home, err := findHome(homes, id)
	if err != nil {
		return nil, err
	}
	line := newMeter(s.err)
	result, err := replay.Run(ctx, replay.Options{Homes: []detect.Home{home}, Files: files, Strict: f.strict, Others: true, Progress: showReplay(line)})
	line.clear()
	if err != nil {
		return nil, asInputError(err)
	}
	clear(result.Unknown) // the other homes' readings were not asked for
	complain(s.err, result, files)
	a := &account{home: home, books: result.Books[id]}
	if a.books.At.IsZero() {
		return nil, inputError{fmt.Errorf("the recordings hold no minute of home %q", id)}
	}
	for _, r := range result.Regenerations {
		a.regenerations = append(a.regenerations, bookedRegeneration{r.Record, &r.Entry})
	}
	return a, nil
}

// findHome is the home of an id; the error names those of near ids.
func findHome(homes []detect.Home, id string) (detect.Home, error) {
	for _, h := range homes {
		if h.ID == id {
			return h, nil
		}
	}
	text := fmt.Sprintf("no home has the id %q", id)
	if near := nearIDs(homes, id); len(near) > 0 {
		text += "; near are " + strings.Join(near, ", ")
	} else if len(homes) > 0 {
		text += fmt.Sprintf("; there are %d, the first is %s", len(homes), homes[0].ID)
	}
	return detect.Home{}, inputError{errors.New(text)}
}

// mostNear is how many near ids are named.
const mostNear = 5

// nearIDs are ids one slip from the given one, then those two from it, then those
// that hold it.
func nearIDs(homes []detect.Home, id string) (near []string) {
	var all cobra.Command // which knows how to suggest
	for _, h := range homes {
		all.AddCommand(&cobra.Command{Use: h.ID, Run: func(*cobra.Command, []string) {}})
	}
	for all.SuggestionsMinimumDistance = 1; all.SuggestionsMinimumDistance <= 2; all.SuggestionsMinimumDistance++ {
		near = append(near, all.SuggestionsFor(id)...)
	}
	for _, h := range homes {
		if strings.Contains(h.ID, id) {
			near = append(near, h.ID)
		}
	}
	seen := map[string]bool{}
	near = slices.DeleteFunc(near, func(n string) bool {
		again := seen[n]
		seen[n] = true
		return again
	})
	return near[:min(mostNear, len(near))]
}
