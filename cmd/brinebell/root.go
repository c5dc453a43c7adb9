package main

import (
	"fmt"
	"io"
	"strings"

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
softener's books, finds what goes wrong (leaks, dead meters, salt that bridges,
drains that run and more), says what most likely causes it and which check settles
it, tells the people who look after it, and watches whether a repair holds.

Begin with "brinebell demo": it needs nothing else.`,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          knownCommand,
		RunE:          func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	cmd.SuggestionsMinimumDistance = 2 // slips of the keyboard
	cmd.SetIn(s.in)
	cmd.SetOut(s.out)
	cmd.SetErr(s.err)
	cmd.SetFlagErrorFunc(func(c *cobra.Command, err error) error { return usage(c, err) })
	cmd.AddCommand(demoCommand(s), serveCommand(s), replayCommand(s), simulateCommand(s), scoreCommand(s), booksCommand(s), diagnoseCommand(s), dashboardsCommand(s), versionCommand(s),
		storeCommand(s), backupCommand(s), restoreCommand(s),
		peopleCommand(s), firmCommand(s), tokenCommand(s), devicesCommand(s), homesCommand(s))
	addTopics(cmd)
	strictHelp(cmd)
	asInput(cmd)
	return cmd
}

// addTopics adds the topics of help; one that is named like a command is told with
// it.
func addTopics(root *cobra.Command) {
	for _, topic := range topics() {
		if c, _, err := root.Find([]string{topic.Use}); err == nil && c != root {
			c.Long = strings.TrimSpace(c.Long + "\n\n" + topic.Long)
			continue
		}
		root.AddCommand(topic)
	}
}

// strictHelp makes help and completion, which the library brings, refuse what
// they do not know.
func strictHelp(root *cobra.Command) {
	root.InitDefaultHelpCmd()
	root.InitDefaultCompletionCmd()
	for _, c := range root.Commands() {
		switch c.Name() {
		case "help":
			show := c.Run
			c.Run, c.RunE = nil, func(c *cobra.Command, args []string) error {
				if found, rest, err := root.Find(args); err != nil || found == nil || found == root && len(rest) > 0 {
					return usage(root, fmt.Errorf("no help on %q%s", strings.Join(args, " "), near(root, args[0])))
				}
				show(c, args)
				return nil
			}
		case "completion":
			c.Args, c.RunE = cobra.ArbitraryArgs, func(c *cobra.Command, args []string) error {
				if len(args) == 0 {
					return c.Help()
				}
				return usage(c, fmt.Errorf("no completion for %q: there is one for bash, zsh, fish and powershell", args[0]))
			}
		}
	}
}

// takesNothing refuses arguments.
func takesNothing(c *cobra.Command, args []string) error {
	if len(args) > 0 {
		return fmt.Errorf("%s takes no arguments, found %q", c.Name(), args[0])
	}
	return nil
}

// takes asks for an argument.
func takes(what string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) == 0 {
			return fmt.Errorf("%s needs %s", c.Name(), what)
		}
		return nil
	}
}

// knownCommand refuses the words that are no command.
func knownCommand(root *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	return fmt.Errorf("unknown command %q%s", args[0], near(root, args[0]))
}

// near is what was perhaps meant, as the end of a sentence.
func near(root *cobra.Command, name string) string {
	if all := root.SuggestionsFor(name); len(all) > 0 {
		return ": near are " + strings.Join(all, ", ")
	}
	return ""
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
