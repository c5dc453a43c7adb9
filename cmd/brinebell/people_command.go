package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"brinebell/collector/backup"
	"brinebell/collector/people"
	"brinebell/collector/state"
	"brinebell/detect/care"
)

// office is the accounts that a command works with, also while they are served.
type office struct {
	*people.Store
	conf config
	db   *state.DB
}

// withOffice does something with the accounts of a configuration.
func withOffice(c *cobra.Command, path string, do func(context.Context, office) error) error {
	conf, err := commandConfig(c, path)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(conf.Data, 0o750); err != nil {
		return inputError{err}
	}
	db, err := state.Open(c.Context(), filepath.Join(conf.Data, backup.StateFile), nil)
	if err != nil {
		return err
	}
	err = do(c.Context(), office{people.New(people.Options{DB: db}), conf, db})
	if errors.Is(err, care.ErrBad) || errors.Is(err, care.ErrNone) || errors.Is(err, care.ErrTaken) {
		err = inputError{errors.New(strings.TrimPrefix(err.Error(), care.ErrBad.Error()+": "))}
	}
	return errors.Join(err, db.Close())
}

// note adds to the audit trail what the command line did.
func (o office) note(ctx context.Context, d care.Deed) error { return o.Note(ctx, d) }

// who is the person with an address.
func (o office) who(ctx context.Context, email string) (care.Person, error) {
	p, err := o.ByEmail(ctx, email)
	if err != nil {
		err = fmt.Errorf("%s: %w", email, err)
	}
	return p, err
}

// link is the address by which a person sets a password.
func (o office) link(ctx context.Context, p care.Person) (string, error) {
	secret, err := o.Invite(ctx, p.ID, people.InviteTime)
	base := o.conf.Telling.Pages
	if base == "" {
		base = "http://" + o.conf.Listen
	}
	return strings.TrimSuffix(base, "/") + "/link/" + secret, err
}

// group is a command that only has others.
func group(use, short string, sub ...*cobra.Command) *cobra.Command {
	cmd := &cobra.Command{Use: use, Short: short, Args: cobra.NoArgs, RunE: func(c *cobra.Command, _ []string) error { return c.Help() }}
	config := new(string)
	for _, s := range sub {
		s.Flags().StringVar(config, "config", "", "configuration of \"brinebell serve\" (required)")
		_ = s.MarkFlagFilename("config", "yaml", "yml") // the flag was defined above
		cmd.AddCommand(s)
	}
	return cmd
}

// configOf is the configuration a command of a group was given.
func configOf(c *cobra.Command) string { return c.Flag("config").Value.String() }

// inOffice is a command that does something with the accounts.
func inOffice(use, short string, args cobra.PositionalArgs, do func(ctx context.Context, o office, args []string) error) *cobra.Command {
	return &cobra.Command{Use: use, Short: short, Args: args, RunE: func(c *cobra.Command, args []string) error {
		return withOffice(c, configOf(c), func(ctx context.Context, o office) error { return do(ctx, o, args) })
	}}
}

// table writes columns.
func table(s streams, rows func(row func(cells ...any))) error {
	w := tabwriter.NewWriter(s.out, 0, 0, 2, ' ', 0)
	rows(func(cells ...any) {
		text := make([]string, len(cells))
		for i, c := range cells {
			text[i] = fmt.Sprint(c)
		}
		fmt.Fprintln(w, strings.Join(text, "\t"))
	})
	return w.Flush()
}

func firmCommand(s streams) *cobra.Command {
	add := inOffice("add ID NAME", "Add a firm that looks after homes", cobra.ExactArgs(2), func(ctx context.Context, o office, args []string) error {
		if err := o.AddFirm(ctx, care.Firm{ID: args[0], Name: args[1]}); err != nil {
			return err
		}
		return o.note(ctx, care.Deed{Firm: args[0], Act: "firm added", Subject: args[0]})
	})
	list := inOffice("list", "List firms", cobra.NoArgs, func(ctx context.Context, o office, _ []string) error {
		all, err := o.Firms(ctx)
		return errors.Join(err, table(s, func(row func(...any)) {
			for _, f := range all {
				row(f.ID, f.Name)
			}
		}))
	})
	return group("firm", "Firms that look after homes", add, list)
}

func peopleCommand(s streams) *cobra.Command {
	var role, firm string
	var homes []string
	add := inOffice("add NAME EMAIL", "Add a person and print the link by which they set a password", cobra.ExactArgs(2), func(ctx context.Context, o office, args []string) error {
		p := care.Person{Name: args[0], Email: args[1], Role: care.Role(role), Firm: firm, Homes: homes}
		for _, home := range homes {
			if at, err := o.Place(ctx, home); err != nil || at.Firm != firm {
				return fmt.Errorf("the firm %q has no home %q: %w", firm, home, care.ErrNone)
			}
		}
		p, err := o.Add(ctx, p)
		if err != nil {
			return err
		}
		link, err := o.link(ctx, p)
		fmt.Fprintln(s.out, link)
		return errors.Join(err, o.note(ctx, care.Deed{Firm: firm, Act: "person added", Subject: p.ID, Detail: role}))
	})
	add.Flags().StringVar(&role, "role", "", "household, technician, manager or operator")
	add.Flags().StringVar(&firm, "firm", "", "id of the firm; none of an operator")
	add.Flags().StringSliceVar(&homes, "home", nil, "id of a home of a household; may be given again")
	list := inOffice("list", "List people", cobra.NoArgs, func(ctx context.Context, o office, _ []string) error {
		all, err := o.People(ctx, "")
		return errors.Join(err, table(s, func(row func(...any)) {
			for _, p := range all {
				state := ""
				if p.Disabled {
					state = "disabled"
				}
				row(p.Email, p.Name, p.Role, p.Firm, strings.Join(p.Homes, " "), state)
			}
		}))
	})
	link := inOffice("link EMAIL", "Print a link by which a person sets another password", cobra.ExactArgs(1), func(ctx context.Context, o office, args []string) error {
		p, err := o.who(ctx, args[0])
		if err != nil {
			return err
		}
		address, err := o.link(ctx, p)
		fmt.Fprintln(s.out, address)
		return errors.Join(err, o.note(ctx, care.Deed{Firm: p.Firm, Act: "link made", Subject: p.ID}))
	})
	var enable bool
	disable := inOffice("disable EMAIL", "Keep a person out, at once", cobra.ExactArgs(1), func(ctx context.Context, o office, args []string) error {
		p, err := o.who(ctx, args[0])
		if err != nil {
			return err
		}
		p.Disabled = !enable
		return errors.Join(o.Change(ctx, p), o.note(ctx, care.Deed{Firm: p.Firm, Act: "person changed", Subject: p.ID}))
	})
	disable.Flags().BoolVar(&enable, "undo", false, "let them in again")
	remove := inOffice("remove EMAIL", "Remove a person", cobra.ExactArgs(1), func(ctx context.Context, o office, args []string) error {
		p, err := o.who(ctx, args[0])
		if err != nil {
			return err
		}
		return errors.Join(o.Remove(ctx, p.ID), o.note(ctx, care.Deed{Firm: p.Firm, Act: "person removed", Subject: p.ID}))
	})
	return group("people", "People who may sign in", add, list, link, disable, remove)
}

func tokenCommand(s streams) *cobra.Command {
	var scope, name string
	var days int
	add := inOffice("add EMAIL", "Make a token by which a program acts for a person, and print it", cobra.ExactArgs(1), func(ctx context.Context, o office, args []string) error {
		p, err := o.who(ctx, args[0])
		if err != nil {
			return err
		}
		t, secret, err := o.AddToken(ctx, care.Token{Person: p.ID, Name: name, Scope: care.Scope(scope), Expires: time.Now().Add(time.Duration(days) * 24 * time.Hour)})
		if err != nil {
			return err
		}
		fmt.Fprintln(s.out, secret)
		return o.note(ctx, care.Deed{Firm: p.Firm, Act: "token made", Subject: t.ID, Detail: scope})
	})
	add.Flags().StringVar(&scope, "scope", string(care.ReadScope), "read, write or devices")
	add.Flags().StringVar(&name, "name", "command line", "what it is for")
	add.Flags().IntVar(&days, "days", 90, "how long it is good for")
	list := inOffice("list EMAIL", "List a person's tokens", cobra.ExactArgs(1), func(ctx context.Context, o office, args []string) error {
		p, err := o.who(ctx, args[0])
		if err != nil {
			return err
		}
		all, err := o.Tokens(ctx, p.ID)
		return errors.Join(err, table(s, func(row func(...any)) {
			for _, t := range all {
				row(t.ID, t.Name, t.Scope, "until "+t.Expires.Format(time.DateOnly))
			}
		}))
	})
	remove := inOffice("remove EMAIL ID", "Remove a token", cobra.ExactArgs(2), func(ctx context.Context, o office, args []string) error {
		p, err := o.who(ctx, args[0])
		if err != nil {
			return err
		}
		return errors.Join(o.RemoveToken(ctx, p.ID, args[1]), o.note(ctx, care.Deed{Firm: p.Firm, Act: "token removed", Subject: args[1]}))
	})
	return group("token", "Tokens by which programs use /api/v1", add, list, remove)
}
