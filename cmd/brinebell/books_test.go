package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	judging "brinebell/collector/judge"
	"brinebell/collector/recording"
	"brinebell/collector/series"
	"brinebell/collector/state"
	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/engine"
	"brinebell/detect/regeneration"
)

// lived writes a recording of a month of three sound homes.
func lived(t *testing.T, more ...string) (record, homes string) {
	t.Helper()
	dir := t.TempDir()
	record, homes = filepath.Join(dir, "town.csv.gz"), filepath.Join(dir, "homes.yaml")
	must(t, append([]string{"simulate", "--homes", "3", "--days", "30", "--seed", "5", "--interval", "60s", "--faults", "none",
		"--record", record, "--homes-out", homes}, more...)...)
	return record, homes
}

func readAccountJSON(t *testing.T, text string) (a accountJSON) {
	t.Helper()
	if err := json.Unmarshal([]byte(text), &a); err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	return a
}

func TestBooksFormatsAgree(t *testing.T) {
	record, homes := lived(t)
	args := []string{"books", "home-0002", "--homes", homes, record, "--format"}
	a := readAccountJSON(t, must(t, append(args, "json")...))
	if len(a.Regenerations) < 2 || a.Home != "home-0002" || a.Books.Regenerations != len(a.Regenerations) {
		t.Fatalf("%d regenerations, %d in the books", len(a.Regenerations), a.Books.Regenerations)
	}
	rows, err := csv.NewReader(strings.NewReader(must(t, append(args, "csv")...))).ReadAll()
	if err != nil || len(rows) != len(a.Regenerations)+1 || !slices.Equal(rows[0], csvHead) {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for i, r := range a.Regenerations {
		row := rows[i+1]
		salt, err := strconv.ParseFloat(row[6], 64)
		if err != nil || math.Abs(salt-float64(r.Entry.Salt)) > 0.001 || row[1] != r.Start.UTC().Format(time.RFC3339) || row[10] != string(r.Ending) {
			t.Errorf("row %v, want %+v", row, r)
		}
		// A saturated sodium chloride brine holds 0.318 kg of salt a litre at 20 degC
		// (26.4 % by mass at 1.20 kg/L: CRC Handbook of Chemistry and Physics,
		// concentrative properties of aqueous solutions).
		if share := float64(r.Entry.Salt / r.Entry.Brine.Value); math.Abs(share-0.318) > 0.01 {
			t.Errorf("%.3f kg of salt a litre of brine", share)
		}
	}
	text := must(t, append(args, "text")...)
	for _, want := range []string{"House 2 (home-0002), as of ", "Water ", "Capacity ", "Runs out ", "Explained ", fmt.Sprintf("Regenerations: %d\n", len(a.Regenerations)),
		"backwash 10, brine draw"} {
		if !strings.Contains(text, want) {
			t.Errorf("the text lacks %q:\n%s", want, text)
		}
	}
}

// With a level sensor alone neither drain nor water is known, and that is said.
func TestBooksSayWhatWasNotSeen(t *testing.T) {
	record, homes := lived(t, "--homes", "1")
	only := filepath.Join(t.TempDir(), "level.csv")
	keepSignal(t, record, only, detect.BrineLevel)
	args := []string{"books", "home-0001", "--homes", homes, only, "--format"}
	text := must(t, append(args, "text")...)
	for _, want := range []string{"not seen: no meter sees it", "not seen: no sensor hangs over it", "not known yet"} {
		if !strings.Contains(text, want) {
			t.Errorf("the text lacks %q:\n%s", want, text)
		}
	}
	rows, err := csv.NewReader(strings.NewReader(must(t, append(args, "csv")...))).ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for _, row := range rows[1:] {
		if row[8] != "" || row[5] == "" {
			t.Errorf("drain %q, brine %q, want none and some", row[8], row[5])
		}
	}
	raw := must(t, append(args, "json")...)
	if a := readAccountJSON(t, raw); a.Regenerations[0].Entry.Drain.Value.Known() || a.Books.Bed.LeftLitres.Known() || !strings.Contains(raw, `"left_l": null`) {
		t.Error("what was not seen is not null")
	}
}

// keepSignal copies one signal of a recording.
func keepSignal(t *testing.T, from, to string, signal detect.Signal) {
	t.Helper()
	in, err := recording.Open(from, recording.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	out, err := recording.Create(to)
	if err != nil {
		t.Fatal(err)
	}
	for {
		r, err := in.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err == nil && r.Signal == signal {
			err = out.Write(r)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := out.Close(); err != nil {
		t.Fatal(err)
	}
}

// What is stored reads as what is replayed, while the store is in use.
func TestBooksFromTheStore(t *testing.T) {
	record, homesFile := lived(t)
	dir := t.TempDir()
	config := filepath.Join(dir, "brinebell.yaml")
	if err := os.WriteFile(config, []byte("data: "+dir+"\nhomes: "+homesFile+"\nbroker: {listen: 127.0.0.1:0}\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if code, _, errOut := command(t, "books", "home-0001", "--config", config); code != exitUsage || !strings.Contains(errOut, "run first") {
		t.Errorf("exit %d without a store: %s", code, errOut)
	}
	db, err := state.Open(t.Context(), filepath.Join(dir, "state.db"), nil)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if out := must(t, "books", "home-0001", "--config", config); !strings.Contains(out, "No regeneration was seen.") || !strings.Contains(out, unseen) {
		t.Errorf("an empty store: %s", out)
	}
	store(t, db, record, homesFile, "home-0001")
	for _, format := range []string{"json", "csv", "text"} {
		got := must(t, "books", "home-0001", "--config", config, "--format", format)
		if want := must(t, "books", "home-0001", "--homes", homesFile, record, "--format", format); got != want {
			t.Errorf("stored:\n%s\nreplayed:\n%s", got, want)
		}
	}
	keepOpen(t, dir, record)
	// What was stored after the snapshot is judged too.
	if got, want := must(t, "books", "home-0001", "--config", config, "--format", "csv"), must(t, "books", "home-0001", "--homes", homesFile, record, "--format", "csv"); got != want {
		t.Errorf("with readings beside:\n%s\nreplayed:\n%s", got, want)
	}
	stored, recorded := filepath.Join(dir, "stored.svg"), filepath.Join(dir, "recorded.svg")
	must(t, "books", "home-0001", "--config", config, "--picture", stored)
	must(t, "books", "home-0001", "--homes", homesFile, "--picture", recorded, record)
	got, err := os.ReadFile(stored)
	if want, _ := os.ReadFile(recorded); err != nil || !bytes.Equal(got, want) || len(got) < 3000 {
		t.Errorf("%v: the picture of %d bytes from the store is not that of %d from the recording", err, len(got), len(want))
	}
}

// keepOpen stores a recording's readings and leaves the store open, as a running
// collector does.
func keepOpen(t *testing.T, dir, record string) {
	t.Helper()
	s, err := series.Open(series.Options{Dir: filepath.Join(dir, "series"), NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	var all []detect.Reading
	if err := pick(t.Context(), record, &all, func(*detect.Reading) bool { return true }); err != nil {
		t.Fatal(err)
	}
	if rejected, err := s.Append(t.Context(), all); err != nil || len(rejected) > 0 {
		t.Fatal(len(rejected), err)
	}
}

// store judges a home's recording and stores what a collector would, with a
// newer snapshot that no version of the program can read.
func store(t *testing.T, db *state.DB, record, homesFile, id string) {
	t.Helper()
	homes, err := readHomes(homesFile, func(string) {})
	if err != nil {
		t.Fatal(err)
	}
	e := engine.New(homes, engine.Options{})
	in, err := recording.Open(record, recording.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	for {
		r, err := in.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		e.Observe(r)
	}
	e.Flush(id)
	data, err := e.Snapshot(id)
	if err != nil {
		t.Fatal(err)
	}
	at := e.Watermark(id)
	p := state.Progress{Home: id, Snapshots: []state.Snapshot{{Watermark: at, Data: judging.Seal(data)}, {Watermark: at.Add(time.Hour), Data: []byte("of another version")}}}
	for _, r := range e.Regenerations() {
		if r.Home == id {
			p.Regenerations = append(p.Regenerations, state.Regeneration{Record: r.Record, Entry: &r.Entry})
		}
	}
	if _, err := db.Save(t.Context(), p); err != nil {
		t.Fatal(err)
	}
}

func TestBooksPicture(t *testing.T) {
	record, homes := lived(t)
	a := readAccountJSON(t, must(t, "books", "home-0002", "--homes", homes, record, "--format", "json"))
	first := a.Regenerations[0]
	path := filepath.Join(t.TempDir(), "night.svg")
	out := must(t, "books", "home-0002", "--homes", homes, "--picture", path, "--at", first.Start.Add(20*time.Minute).Format(time.RFC3339), record)
	if !strings.Contains(out, path) {
		t.Error(out)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := xml.Unmarshal(text, new(struct{})); err != nil {
		t.Errorf("not well-formed: %v", err)
	}
	picture := string(text)
	if n := strings.Count(picture, `class="band phase`); n != len(first.Phases) {
		t.Errorf("%d phases shaded, want %d", n, len(first.Phases))
	}
	for _, want := range []string{"Water to the drain, ", "Liquid in the brine tank, ", `class="level"`, `class="mean"`, "1  backwash"} {
		if !strings.Contains(picture, want) {
			t.Errorf("the picture lacks %q", want)
		}
	}
	for when, want := range map[string]string{"2031-01-01": "no regeneration began that day", "2031-01-01 02:00": "the nearest began", "yesterday": "no day or time"} {
		if code, _, errOut := command(t, "books", "home-0002", "--homes", homes, "--picture", path, "--at", when, record); code != exitUsage || !strings.Contains(errOut, want) {
			t.Errorf("--at %s: exit %d, %s", when, code, errOut)
		}
	}
}

func TestBooksMistakes(t *testing.T) {
	record, homes := lived(t, "--days", "1")
	for want, args := range map[string][]string{
		"near are home-0002, ":                 {"hme-0002", "--homes", homes, record},
		"there are 3, the first is home-0001":  {"villa", "--homes", homes, record},
		"near are home-0001, home-0002":        {"home", "--homes", homes, record},
		"give --homes with recordings":         {"home-0001"},
		"give one of them":                     {"home-0001", "--homes", homes, "--config", homes},
		"needs recordings to work":             {"home-0001", "--homes", homes},
		"takes no recordings":                  {"home-0001", "--config", homes, record},
		"use text, json or csv":                {"home-0001", "--homes", homes, "--format", "xml", record},
		"--at needs --picture":                 {"home-0001", "--homes", homes, "--at", "2025-03-09", record},
		"--picture needs recordings":           {"home-0001", "--homes", homes, "--picture", "x.svg", "-"},
		"books needs the id of a home":         {},
		"there is nothing to draw":             {"home-0001", "--homes", homes, "--picture", filepath.Join(t.TempDir(), "x.svg"), record},
		"hold no minute of home \"home-0003\"": {"home-0003", "--homes", homes, os.DevNull},
	} {
		if code, _, errOut := command(t, append([]string{"books"}, args...)...); code != exitUsage || !strings.Contains(errOut, want) {
			t.Errorf("%v: exit %d, %q, want %q", args, code, errOut, want)
		}
	}
}

// One US gallon is 3.785411784 L and one pound 0.45359237 kg by definition (NIST
// SP 811, appendix B).
func TestBooksInUSUnits(t *testing.T) {
	a := account{home: detect.DefaultHome("a", time.UTC)}
	a.home.Units = detect.US
	for _, row := range []struct {
		v    books.Number
		d    detect.Dimension
		want string
	}{{378.5411784, detect.Volume, "100 gal"}, {2.7, detect.Mass, "5.95 lb"}, {books.Unknown(), detect.Mass, unseen}, {25.4, detect.Length, "1.00 in"},
		{books.Number(math.Inf(1)), detect.Volume, unseen}, {171.18, detect.Hardness, "10.0 gpg"}} {
		if got := a.amount(row.v, row.d); got != row.want {
			t.Errorf("%v %s: %q, want %q", row.v, row.d, got, row.want)
		}
	}
}

// A regeneration stored by a version that did not book it keeps what was
// recognised.
func TestRegenerationWithoutEntry(t *testing.T) {
	start := time.Date(2025, 3, 9, 2, 0, 0, 0, time.UTC)
	a := account{home: detect.DefaultHome("a", time.UTC), regenerations: []bookedRegeneration{{record: regeneration.Record{Start: start, End: start.Add(80 * time.Minute),
		Ending: regeneration.CutShort, BrineLitres: 5, DrainLitres: math.NaN(), RefillLitres: math.NaN(), Confidence: 0.9}}}}
	var text strings.Builder
	if err := a.writeText(&text); err != nil || !strings.Contains(text.String(), "5.00 L  not seen  not seen  not seen  cut short  90 %") {
		t.Errorf("%v\n%s", err, text.String())
	}
	if row := a.csvRow(&a.regenerations[0]); row[5] != "5.000" || row[6] != "" || row[7] != "" || row[12] != "" {
		t.Errorf("%q", row)
	}
}
