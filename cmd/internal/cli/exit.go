package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"offbeat/cmd/internal/designfile"
)

// Exit statuses (DESIGN 8). What was typed on the command line is wrong usage; what stands in a file is input.
const (
	Done      = 0 // within target, or no target
	OffTarget = 1 // done, out of target
	Usage     = 2 // wrong usage
	Failed    = 3 // input not read, output not written, internal failure
	Undecided = 4 // done, undecided
)

// verdictError carries a verdict other than pass to the exit status; there is nothing to complain about.
type verdictError struct{ result string }

func (e verdictError) Error() string { return "verdict: " + e.result }

// usageError is wrong usage of the command line.
type usageError struct{ err error }

func (e usageError) Error() string { return e.err.Error() }
func (e usageError) Unwrap() error { return e.err }

// choiceError is an input in which a channel must be chosen, with how that is done here.
type choiceError struct {
	err error
	how string
}

func (e choiceError) Error() string { return e.err.Error() }
func (e choiceError) Unwrap() error { return e.err }

func usage(err error) error { return usageError{err} }

func usagef(format string, args ...any) error { return usage(fmt.Errorf(format, args...)) }

// Status turns an error into an exit status. It is the only place that does; what it does not know is Failed.
func Status(err error) int {
	var v verdictError
	var u usageError
	var d *designfile.Error
	switch {
	case err == nil:
		return Done
	case errors.As(err, &v):
		return map[string]int{"fail": OffTarget, "undecided": Undecided}[v.result]
	case errors.As(err, &u):
		return Usage
	case errors.As(err, &d) && d.Flag:
		return Usage
	}
	return Failed
}

// said is an error in words: a line each of those joined.
func said(err error) string {
	switch {
	case err == context.Canceled:
		return errInterrupted.Error()
	case errors.Is(err, context.Canceled):
		return strings.ReplaceAll(err.Error(), context.Canceled.Error(), errInterrupted.Error())
	}
	if all, ok := err.(interface{ Unwrap() []error }); ok && errors.Join(all.Unwrap()...).Error() == err.Error() {
		var lines []string
		for _, e := range all.Unwrap() {
			lines = append(lines, said(e))
		}
		return strings.Join(lines, "\n")
	}
	return strings.ReplaceAll(err.Error(), "\n", `\u000a`)
}

// complain prints an error for a person: what, where, what was expected; with a caret where one can point.
func complain(w io.Writer, c *cobra.Command, err error, secret *strings.Replacer) {
	if _, ok := errors.AsType[verdictError](err); ok {
		return
	}
	fmt.Fprintln(w, "offbeat: "+secret.Replace(said(err)))
	var caret interface{ Caret() string }
	if errors.As(err, &caret) && caret.Caret() != "" {
		fmt.Fprintln(w, "    "+strings.ReplaceAll(secret.Replace(caret.Caret()), "\n", "\n    "))
	}
	if ch, ok := errors.AsType[choiceError](err); ok {
		fmt.Fprintln(w, ch.how)
	}
	if Status(err) == Usage && c != nil {
		fmt.Fprintf(w, "See %s --help.\n", c.CommandPath())
	}
}
