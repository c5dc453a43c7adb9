package main

import (
	"io"

	"github.com/spf13/cobra"
)

// streams are where a command reads and writes.
type streams struct {
	in       io.Reader
	out, err io.Writer
}

func root(s streams) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "brinebell",
		Short: "Watch household water softeners and say what is wrong with them",
		Long: `Brinebell collects readings from sensors at household water softeners, keeps each
softener's books, finds leaks, dead meters, wrong salt draws and running drains,
and says what most likely causes them and which check settles it.

Begin with "brinebell demo": it needs nothing else.`,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          cobra.NoArgs,
		RunE:          func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	cmd.SetIn(s.in)
	cmd.SetOut(s.out)
	cmd.SetErr(s.err)
	cmd.SetFlagErrorFunc(func(c *cobra.Command, err error) error { return usage(c, err) })
	cmd.AddCommand(demoCommand(s), serveCommand(s), replayCommand(s), simulateCommand(s), scoreCommand(s), booksCommand(s), diagnoseCommand(s), versionCommand(s))
	cmd.AddCommand(topics()...)
	asInput(cmd)
	return cmd
}

// usage is a mistake in the command line, with where to read on.
func usage(c *cobra.Command, err error) error {
	return inputError{&usageError{c.CommandPath(), err}}
}

type usageError struct {
	command string
	err     error
}

func (e *usageError) Error() string {
	return e.err.Error() + "\nSee '" + e.command + " --help'."
}
func (e *usageError) Unwrap() error { return e.err }

// asInput makes wrong arguments of every command a usage error.
func asInput(cmd *cobra.Command) {
	if check := cmd.Args; check != nil {
		cmd.Args = func(c *cobra.Command, args []string) error {
			if err := check(c, args); err != nil {
				return usage(c, err)
			}
			return nil
		}
	}
	for _, sub := range cmd.Commands() {
		asInput(sub)
	}
}
