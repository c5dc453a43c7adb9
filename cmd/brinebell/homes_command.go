package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"brinebell/dashboards/api"
	"brinebell/detect"
	"brinebell/detect/fleet"
)

// running is the service that runs with a configuration.
type running struct {
	client http.Client
	homes  string // homes file
}

func runningWith(conf config) running {
	path := filepath.Join(conf.Data, controlSocket)
	return running{http.Client{Transport: &http.Transport{DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
		return (&net.Dialer{}).DialContext(ctx, "unix", path)
	}}}, conf.Homes}
}

// ask makes a call of the interface for programs, and hands the answer to take.
func (r running) ask(ctx context.Context, method, path, kind string, body io.Reader, take func(io.Reader) error) error {
	request, err := http.NewRequestWithContext(ctx, method, "http://brinebell"+api.Prefix+path, body)
	if err != nil {
		return err
	}
	request.Header.Set("Content-Type", kind)
	answer, err := r.client.Do(request)
	if err != nil {
		return inputError{fmt.Errorf("\"brinebell serve\" does not run with this configuration, and homes are put in while it runs (%w)", errors.Unwrap(err))}
	}
	defer answer.Body.Close()
	if answer.StatusCode >= http.StatusBadRequest {
		return problemOf(answer)
	}
	return take(answer.Body)
}

// problemOf is what a problem says, with each detail on a line.
func problemOf(answer *http.Response) error {
	var p struct {
		Detail string
		Errors []struct{ Message string }
	}
	if err := json.NewDecoder(answer.Body).Decode(&p); err != nil {
		return fmt.Errorf("the service answers %s", answer.Status)
	}
	errs := []error{errors.New(p.Detail)}
	for _, e := range p.Errors {
		errs = append(errs, errors.New("  "+e.Message))
	}
	return inputError{errors.Join(errs...)}
}

// whileServing is a command that asks the running service.
func whileServing(use, short string, args cobra.PositionalArgs, do func(ctx context.Context, r running, args []string) error) *cobra.Command {
	return &cobra.Command{Use: use, Short: short, Args: args, RunE: func(c *cobra.Command, args []string) error {
		conf, err := commandConfig(c, configOf(c))
		if err != nil {
			return err
		}
		return do(c.Context(), runningWith(conf), args)
	}}
}

func ignore(io.Reader) error { return nil }

func asJSON(v any) io.Reader {
	text, err := json.Marshal(v)
	if err != nil {
		panic(err) // of maps and texts
	}
	return bytes.NewReader(text)
}

func homesCommand(s streams) *cobra.Command {
	var firm, area string
	add := whileServing("add PROFILE.yaml", "Add a home by its profile, an item of a homes file", cobra.ExactArgs(1), func(ctx context.Context, r running, args []string) error {
		text, err := os.ReadFile(args[0])
		if err != nil {
			return inputError{err}
		}
		return r.ask(ctx, http.MethodPost, "/homes", "application/json", asJSON(map[string]string{"profile": string(text), "firm": firm, "area": area}), ignore)
	})
	add.Flags().StringVar(&firm, "firm", "", "id of the firm that looks after it")
	add.Flags().StringVar(&area, "area", "", "of the firm's rounds")
	place := whileServing("place HOME", "Put a home under a firm and in an area", cobra.ExactArgs(1), func(ctx context.Context, r running, args []string) error {
		return r.ask(ctx, http.MethodPut, "/homes/"+url.PathEscape(args[0])+"/place", "application/json", asJSON(map[string]string{"firm": firm, "area": area}), ignore)
	})
	place.Flags().AddFlagSet(add.Flags())
	list := whileServing("list", "List homes", cobra.NoArgs, func(ctx context.Context, r running, _ []string) error { return listHomes(ctx, s, r) })
	export := whileServing("export HOME FILE.zip", "Write all data of a home to a file", cobra.ExactArgs(2), func(ctx context.Context, r running, args []string) error {
		return r.ask(ctx, http.MethodGet, "/homes/"+url.PathEscape(args[0])+"/export", "", nil, func(in io.Reader) error {
			return writeSecret(args[1], func(out io.Writer) error { _, err := io.Copy(out, in); return err })
		})
	})
	var sure bool
	erase := whileServing("erase HOME --really", "Erase a home with all its data; it cannot be undone", cobra.ExactArgs(1), func(ctx context.Context, r running, args []string) error {
		if !sure {
			return inputError{errors.New("this cannot be undone: say --really, perhaps after brinebell homes export")}
		}
		if err := r.ask(ctx, http.MethodDelete, "/homes/"+url.PathEscape(args[0]), "", nil, ignore); err != nil {
			return err
		}
		if listed, err := readHomes(r.homes, func(string) {}); err == nil && slices.ContainsFunc(listed, func(h detect.Home) bool { return h.ID == args[0] }) {
			fmt.Fprintf(s.err, "note: %s still lists %s. Take it out there, or it comes back, empty, at the next start.\n", r.homes, args[0])
		}
		return nil
	})
	erase.Flags().BoolVar(&sure, "really", false, "erase it")
	cmd := group("homes", "Homes of a running service", add, list, place, importCommand(s), export, erase)
	cmd.AddCommand(&cobra.Command{Use: "columns", Short: "Print the first line of a table for import, and what each column holds", Args: cobra.NoArgs, RunE: func(*cobra.Command, []string) error {
		fmt.Fprint(s.out, fleet.Header(), "\n")
		return table(s, func(row func(...any)) {
			for _, c := range fleet.Columns() {
				row(c.Name, c.Says)
			}
		})
	}})
	return cmd
}

func listHomes(ctx context.Context, s streams, r running) (err error) {
	var page struct {
		Items []struct{ ID, Name, Timezone, Firm, Area string }
		Next  string
	}
	shown := table(s, func(row func(...any)) {
		for begun := false; err == nil && (!begun || page.Next != ""); begun = true {
			after := page.Next
			page.Next, page.Items = "", nil
			err = r.ask(ctx, http.MethodGet, "/homes?limit=200&after="+after, "", nil, func(in io.Reader) error { return json.NewDecoder(in).Decode(&page) })
			for _, h := range page.Items {
				row(h.ID, h.Name, h.Timezone, h.Firm, h.Area)
			}
		}
	})
	return errors.Join(err, shown)
}

func importCommand(s streams) *cobra.Command {
	var do bool
	cmd := whileServing("import TABLE.csv", "Add many homes from a table; without --do only say what is wrong with it", cobra.ExactArgs(1), func(ctx context.Context, r running, args []string) error {
		text, err := os.ReadFile(args[0])
		if err != nil {
			return inputError{err}
		}
		var report struct {
			Homes, Added int
			Bad          []fleet.Bad
			Devices      []struct{ Login, Secret string }
		}
		err = r.ask(ctx, http.MethodPost, fmt.Sprintf("/homes/import?dry_run=%v", !do), "text/csv", bytes.NewReader(text), func(in io.Reader) error {
			return json.NewDecoder(in).Decode(&report)
		})
		if err != nil {
			return err
		}
		for _, b := range report.Bad {
			fmt.Fprintf(s.err, "%s: %v\n", args[0], b)
		}
		for _, d := range report.Devices {
			fmt.Fprintf(s.out, "%s\t%s\n", d.Login, d.Secret)
		}
		switch {
		case len(report.Bad) > 0:
			return inputError{fmt.Errorf("%d things are wrong with %s; %d homes are in order, and none was added", len(report.Bad), args[0], report.Homes)}
		case !do:
			fmt.Fprintf(s.err, "%d homes, nothing wrong. Add them with --do\n", report.Homes)
		default:
			fmt.Fprintf(s.err, "%d homes were added\n", report.Added)
		}
		return nil
	})
	cmd.Flags().BoolVar(&do, "do", false, "add them")
	return cmd
}
