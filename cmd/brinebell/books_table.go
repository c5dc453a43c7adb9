package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"brinebell/dashboards/web"
	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/regeneration"
)

// salt is what a regeneration took out of the tank, unknown where it was not
// booked; assumed says that the programme's dose stands in.
func (r *bookedRegeneration) salt() (kg books.Number, assumed bool) {
	if r.entry == nil {
		return books.Unknown(), false
	}
	return r.entry.Salt, r.entry.SaltAssumed
}

func (r *bookedRegeneration) minutes() float64 { return r.record.End.Sub(r.record.Start).Minutes() }

func (r *bookedRegeneration) reasons() (out []books.Reason) {
	if r.entry != nil {
		return r.entry.Reasons
	}
	return nil
}

// brine is as booked, which may know it from the levels alone.
func (r *bookedRegeneration) brine() books.Number {
	if r.entry != nil {
		return r.entry.Brine.Value
	}
	return books.Number(r.record.BrineLitres)
}

var endingWords = map[regeneration.Ending]string{regeneration.Completed: "completed", regeneration.CutShort: "cut short", regeneration.NeverEnded: "never ended"}

// writeTable writes two lines a regeneration: its numbers, then its phases and
// what was out of proportion.
func (a *account) writeTable(w io.Writer) {
	if len(a.regenerations) == 0 {
		fmt.Fprintln(w, "No regeneration was seen.")
		return
	}
	fmt.Fprintf(w, "Regenerations: %d\n", len(a.regenerations))
	rows, assumed := a.rows()
	for i, row := range rows { // the first is the head
		fmt.Fprintln(w, row)
		if i > 0 {
			fmt.Fprintf(w, "    %s\n", a.regenerations[i-1].story())
		}
	}
	if assumed {
		fmt.Fprintln(w, "\nSalt in brackets was not seen: the programme's dose stands in.")
	}
}

// rows are the head and the numbers of the regenerations in columns; assumed says
// that the salt of some of them stands in brackets.
func (a *account) rows() (rows []string, assumed bool) {
	var b strings.Builder
	t := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	// Neither the writer nor its builder fails.
	fmt.Fprintln(t, "began\tminutes\tbrine\tsalt\tdrain\trefill\tending\tsure")
	for i := range a.regenerations {
		r := &a.regenerations[i]
		kg, stands := r.salt()
		salt := a.amount(kg, detect.Mass)
		if assumed = assumed || stands; stands {
			salt = "(" + salt + ")"
		}
		fmt.Fprintf(t, "%s\t%.0f\t%s\t%s\t%s\t%s\t%s\t%.0f %%\n", a.moment(r.record.Start), r.minutes(), a.amount(r.brine(), detect.Volume), salt,
			a.amount(books.Number(r.record.DrainLitres), detect.Volume), a.amount(books.Number(r.record.RefillLitres), detect.Volume),
			endingWords[r.record.Ending], 100*r.record.Confidence)
	}
	t.Flush() // #nosec G104 -- neither it nor the builder below fails
	return strings.Split(strings.TrimSuffix(b.String(), "\n"), "\n"), assumed
}

// story is the phases and what was out of proportion.
func (r *bookedRegeneration) story() string {
	parts := make([]string, 0, len(r.record.Phases))
	for _, p := range r.record.Phases {
		parts = append(parts, fmt.Sprintf("%s %.0f", phaseWords(p.Name), p.Duration.Minutes()))
	}
	text := "phases " + unseen
	if len(parts) > 0 {
		text = strings.Join(parts, ", ") + " min"
	}
	if r.entry != nil {
		parts = append([]string{text}, web.Reasons(*r.entry)...)
		text = strings.Join(parts, "; ")
	}
	return text
}

func phaseWords(p detect.Phase) string { return strings.ReplaceAll(string(p), "_", " ") }

// csvHead names the columns; what was not seen is empty.
var csvHead = []string{"home", "start", "end", "phases", "minutes", "brine_l", "salt_kg", "salt_assumed", "drain_l", "refill_l", "ending", "confidence", "reasons"}

// writeCSV writes one row a regeneration in canonical units.
func (a *account) writeCSV(out io.Writer) error {
	w := csv.NewWriter(out)
	// Errors are kept by the writer and come out of Error.
	_ = w.Write(csvHead)
	for i := range a.regenerations {
		_ = w.Write(a.csvRow(&a.regenerations[i]))
	}
	w.Flush()
	return w.Error()
}

func (a *account) csvRow(r *bookedRegeneration) []string {
	kg, assumed := r.salt()
	phases := make([]string, len(r.record.Phases))
	for i, p := range r.record.Phases {
		phases[i] = string(p.Name) + ":" + csvNumber(books.Number(p.Duration.Minutes()))
	}
	reasons := make([]string, len(r.reasons()))
	for i, why := range r.reasons() {
		reasons[i] = string(why)
	}
	standsIn := ""
	if kg.Known() {
		standsIn = strconv.FormatBool(assumed)
	}
	return []string{a.home.ID, r.record.Start.UTC().Format(time.RFC3339), r.record.End.UTC().Format(time.RFC3339), strings.Join(phases, ";"),
		csvNumber(books.Number(r.minutes())), csvNumber(r.brine()), csvNumber(kg), standsIn, csvNumber(books.Number(r.record.DrainLitres)),
		csvNumber(books.Number(r.record.RefillLitres)), string(r.record.Ending), csvNumber(books.Number(r.record.Confidence)), strings.Join(reasons, ";")}
}

func csvNumber(n books.Number) string {
	if !n.Known() {
		return ""
	}
	return strconv.FormatFloat(float64(n), 'f', 3, 64)
}
