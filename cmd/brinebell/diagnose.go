package main

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"brinebell/detect"
	"brinebell/detect/cause"
)

type diagnoseFlags struct {
	homes, format, who string
	symptoms, checks   []string
	hardness           string
}

func diagnoseCommand(s streams) *cobra.Command {
	var f diagnoseFlags
	m := cause.Standard()
	cmd := &cobra.Command{
		Use:   "diagnose [HOME --homes HOMES.yaml FILE...]",
		Short: "Rank what can be wrong, and say which check to make next",
		Long: `Ranks the causes of what people notice, what a hardness test shows, what checks
showed and, with recordings, what the detectors find at a home. It says what
speaks for and against each cause, and which check tells most per minute.

It works without any sensor. Without any evidence, on a terminal, it asks.

Symptoms: ` + symptomList(m) + `; with =no, nobody noticed it.
Checks, with their outcomes:
` + checkList(m),
		Example: `  brinebell diagnose
  brinebell diagnose --symptom hard_again --symptom no_salt_used --who household
  brinebell diagnose --hardness raw=300,cold=120,hot=180 --check look_salt=enough
  brinebell diagnose mill-lane-4 --homes homes.yaml monday.csv.gz`,
		Args: cobra.ArbitraryArgs,
		RunE: func(c *cobra.Command, args []string) error { return runDiagnose(c, s, f, args) },
	}
	cmd.Flags().StringVar(&f.homes, "homes", "", "homes file with the home's profile")
	cmd.Flags().StringVar(&f.format, "format", "text", "text, or json: one object")
	cmd.Flags().StringVar(&f.who, "who", string(cause.Technician), "who makes the checks: household or technician")
	cmd.Flags().StringArrayVar(&f.symptoms, "symptom", nil, "what people notice; may be given more than once")
	cmd.Flags().StringArrayVar(&f.checks, "check", nil, "a check made, as look_salt=enough; may be given more than once")
	cmd.Flags().StringVar(&f.hardness, "hardness", "", "what was measured, as raw=300,cold=20,hot=90 in mg/L, or with a unit: raw=\"17 gpg\"")
	completeFormats(cmd)
	return cmd
}

func symptomList(m *cause.Model) string {
	var ids []string
	for _, s := range m.Symptoms() {
		ids = append(ids, s.ID)
	}
	return strings.Join(ids, ", ")
}

func checkList(m *cause.Model) string {
	var b strings.Builder
	for _, c := range m.Checks() {
		var ids []string
		for _, o := range c.Outcomes {
			ids = append(ids, o.ID)
		}
		fmt.Fprintf(&b, "  %s=%s\n", c.ID, strings.Join(ids, "|"))
	}
	return strings.TrimRight(b.String(), "\n")
}

func runDiagnose(c *cobra.Command, s streams, f diagnoseFlags, args []string) error {
	who := cause.Who(f.who)
	switch {
	case who != cause.Household && who != cause.Technician:
		return usage(c, fmt.Errorf("--who %q: use household or technician", f.who))
	case f.format != "text" && f.format != "json":
		return usage(c, fmt.Errorf("--format %q: use text or json", f.format))
	}
	e, err := f.evidence()
	if err != nil {
		return usage(c, err)
	}
	told := len(e.Symptoms)+len(e.Checks)+len(e.Hardness) > 0
	var site *site
	if len(args) > 0 {
		if site, err = visit(c, s, f, args); err != nil {
			return err
		}
		site.add(&e)
		told = true
	}
	if !told {
		if f.format == "json" || !onTerminal(s.in) {
			return usage(c, errors.New("nothing to go by: give --symptom, --hardness, --check or a home's recordings, or run it on a terminal to be asked"))
		}
		return converse(c.Context(), s, who)
	}
	step := cause.NewSession(cause.Standard(), e, who).Step()
	if f.format == "json" {
		return printDiagnosisJSON(s.out, step, site)
	}
	return printDiagnosis(s.out, step, site)
}

func onTerminal(in any) bool {
	file, ok := in.(*os.File)
	return ok && term.IsTerminal(int(file.Fd()))
}

// evidence reads the flags.
func (f diagnoseFlags) evidence() (e cause.Evidence, err error) {
	e = cause.Evidence{Symptoms: map[string]bool{}, Checks: map[string]string{}, Hardness: map[detect.Signal]float64{}}
	for _, text := range f.symptoms {
		id, answer, given := strings.Cut(text, "=")
		if given && answer != "yes" && answer != "no" {
			return e, fmt.Errorf("--symptom %s: answer yes or no", text)
		}
		if before, twice := e.Symptoms[id]; twice && before != (answer != "no") {
			return e, fmt.Errorf("--symptom %s: it is given with yes and with no; give it once", id)
		}
		e.Symptoms[id] = answer != "no"
	}
	for _, text := range f.checks {
		id, outcome, given := strings.Cut(text, "=")
		if !given {
			return e, fmt.Errorf("--check %s: say what it showed, as in look_salt=enough", text)
		}
		if before, twice := e.Checks[id]; twice && before != outcome {
			return e, fmt.Errorf("--check %s: it is given as %s and as %s; give what it showed last, once", id, before, outcome)
		}
		e.Checks[id] = outcome
	}
	if err := readHardness(f.hardness, e.Hardness); err != nil {
		return e, err
	}
	return e, cause.Standard().Validate(e)
}

func readHardness(text string, into map[detect.Signal]float64) error {
	if text == "" {
		return nil
	}
	for part := range strings.SplitSeq(text, ",") {
		where, value, _ := strings.Cut(part, "=")
		signal, err := detect.ParseSignal(strings.TrimSpace(where) + "_hardness")
		if err != nil {
			return fmt.Errorf("--hardness %s: use raw, cold or hot", part)
		}
		v, err := detect.ParseQuantity(strings.TrimSpace(value), detect.Hardness)
		if err != nil {
			return fmt.Errorf("--hardness %s: %w", part, err)
		}
		into[signal] = v
	}
	return nil
}
