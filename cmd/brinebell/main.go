// Command brinebell watches household water softeners: it collects readings,
// keeps each softener's books, finds what is wrong and says why.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
	_ "time/tzdata" // homes name IANA zones, and a bare machine has no zone files
)

// version is set by the release build.
var version = "development"

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// The exit statuses.
const (
	exitDone  = 0
	exitFail  = 1 // something went wrong while working
	exitUsage = 2 // wrong usage, or input that cannot be read
)

// inputError is what the person at the keyboard can mend: a wrong flag, a
// missing or malformed file.
type inputError struct{ err error }

func (e inputError) Error() string { return e.err.Error() }
func (e inputError) Unwrap() error { return e.err }

// run is the whole program, for main and for tests.
func run(ctx context.Context, args []string, in io.Reader, out, errOut io.Writer) int {
	cmd := root(streams{in, out, errOut})
	cmd.SetArgs(args)
	err := cmd.ExecuteContext(ctx)
	var input inputError
	switch {
	case err == nil:
		return exitDone
	case errors.As(err, &input):
		fmt.Fprintf(errOut, "brinebell: %v\n", err)
		return exitUsage
	case errors.Is(err, context.Canceled):
		return exitFail
	}
	fmt.Fprintf(errOut, "brinebell: %v\n", err)
	return exitFail
}
