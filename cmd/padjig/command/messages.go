// Package command is what every command of padjig shares: how it fails and what it
// says then, slips on the command line, the flags and phrases that several have, the
// records and product files it opens. What stands on the terminal, and where, follows
// the rules below.
package command

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/station"
	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/sequence"
	"padjig/sequence/wording"
)

// The rules of the terminal:
//
//   - What was asked for goes to stdout: a verdict, a table, an object. With
//     --json stdout holds exactly one object and nothing else, or nothing.
//   - Everything on the way there goes to stderr: progress, prompts, errors.
//   - An error is one line, "padjig: " and what was attempted on what and why
//     it did not go, lower case, no full stop. A second line says what to do:
//     "  try: ...". Mistakes in a product file keep their own lines,
//     file:line:column, so that editors can jump to them.
//   - PASS, FAIL, RESEAT, INCOMPLETE, ABORTED and HARNESS GOOD in capitals are verdicts and
//     stand nowhere else. They differ in word, brightness and shape; colour
//     only repeats it. A verdict from a simulated jig has SIMULATED beside it.
//   - Redrawing and colour only on a terminal; else plain lines. NO_COLOR is heeded.
//   - Names that a person chose are printed as they are; times are local with
//     their zone; in JSON they are UTC.

// The exit statuses, as the root help lists them.
const (
	OK          = 0
	Failed      = 1
	Wrong       = 2
	NotMeasured = 3
	NotRecorded = 4
)

// Failure is an error with an exit status and what a person can do about it.
// Without an err it only sets the status: all was said already.
type Failure struct {
	status int
	err    error
	remedy string
}

func (f *Failure) Error() string {
	if f.err == nil {
		return fmt.Sprintf("exit status %d", f.status)
	}
	return f.err.Error()
}

func (f *Failure) Unwrap() error { return f.err }

// WrongUse is a command line that cannot be followed.
func WrongUse(err error) error { return &Failure{status: Wrong, err: err} }

// WrongUsef is [WrongUse] with a text.
func WrongUsef(format string, args ...any) error { return WrongUse(fmt.Errorf(format, args...)) }

// Fail gives err its exit status and the remedy. An empty remedy means the one
// the package knows that the error is from.
func Fail(status int, err error, remedy string) error {
	return &Failure{status: status, err: err, remedy: remedy}
}

// Quiet sets the exit status when there is nothing more to say.
func Quiet(status int) error {
	if status == OK {
		return nil
	}
	return &Failure{status: status}
}

// Complain prints an error as the rules say and gives the exit status.
func Complain(stderr io.Writer, cmd *cobra.Command, err error) int {
	if err == nil {
		return OK
	}
	t := terminal.Of(stderr)
	words := t.Words
	f := failureOf(cmd, err, words)
	if f.err == nil {
		return f.status
	}
	if cmd != nil && cmd.Context() != nil && cmd.Context().Err() != nil && errors.Is(f.err, context.Canceled) {
		fmt.Fprintln(stderr, "padjig: stopped") // by whoever reads this; where it happened is no news
		return NotMeasured
	}
	text := f.err.Error()
	if r, refused := errors.AsType[*station.Refusal](f.err); refused {
		text = strings.Replace(text, r.Error(), r.In(words), 1)
	}
	fmt.Fprintln(stderr, folded(t, 2, "padjig: "+Shown(OneLine(inWords(f.err, text)))))
	if remedy := remedyOf(f, cmd); remedy != "" {
		fmt.Fprintln(stderr, "  "+folded(t, 7, "try: "+Shown(OneLine(remedy))))
	}
	if set := fromElsewhere(cmd); f.status == Wrong && len(set) > 0 {
		fmt.Fprintf(stderr, "  set: %s\n", strings.Join(set, ", "))
	}
	return f.status
}

// From annotates a flag whose value the command line did not give with where it was set.
const From = "padjig set at"

// fromElsewhere are the flags that others than who typed the command have set: what is wrong may stand there.
func fromElsewhere(cmd *cobra.Command) (all []string) {
	if cmd == nil {
		return nil
	}
	cmd.Flags().Visit(func(f *pflag.Flag) {
		if at := f.Annotations[From]; len(at) == 1 {
			all = append(all, fmt.Sprintf("--%s at %s", f.Name, at[0]))
		}
	})
	return all
}

// failureOf sorts an error. One without a status is cobra's own: an unknown
// command, too few arguments, flags that are missing.
func failureOf(cmd *cobra.Command, err error, words wording.Words) *Failure {
	if cmd != nil {
		err = ofLibrary(cmd, err)
	}

	if f, typed := errors.AsType[*Failure](err); typed {
		return f
	}
	if r, refused := errors.AsType[*station.Refusal](err); refused {
		return &Failure{status: statusOfKind[r.Kind], err: err, remedy: words.Try(r.Remedy)}
	}
	return &Failure{status: Wrong, err: err}
}

var statusOfKind = map[station.Kind]int{
	station.Wrong: Wrong, station.NotMeasured: NotMeasured, station.NotRecorded: NotRecorded,
}

func remedyOf(f *Failure, cmd *cobra.Command) string {
	switch {
	case f.remedy != "":
		return f.remedy
	case errors.Is(f.err, context.Canceled):
		return ""
	case errors.Is(f.err, fixture.ErrInterlock), errors.Is(f.err, fixture.ErrEmergency):
		return "do so, then start this unit again from the beginning"
	case errors.Is(f.err, link.ErrAbsent):
		return "plug the jig in, or see which answer: padjig jig list" + portsThere() +
			"; padjig jig simulate --help for a simulated one"
	}
	if text := link.RemedyOf(f.err); text != "" {
		return text
	}
	if f.status == Wrong && cmd != nil {
		return cmd.CommandPath() + " --help"
	}
	return ""
}

// portsThere names the ports that a jig may be on now.
func portsThere() string {
	ports, err := link.Ports()
	if err != nil || len(ports) == 0 {
		return ""
	}
	return " (there are the ports " + listed(Each(ports, func(p link.Port) string { return p.Path })) + ")"
}

// Noun is a command that only holds others.
func Noun(use, short, example string, subcommands ...*cobra.Command) *cobra.Command {
	cmd := &cobra.Command{Use: use, Short: short, Example: example, RunE: Choose}
	cmd.AddCommand(subcommands...)
	return cmd
}

// StatusOf is the exit status of a test by what came of the unit.
func StatusOf(o sequence.Outcome) int {
	switch o {
	case sequence.Pass:
		return OK
	case sequence.Fail:
		return Failed
	}
	return NotMeasured
}
