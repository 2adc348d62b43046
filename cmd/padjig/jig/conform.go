package jig

// padjig jig conform: whoever builds a jig learns which sentence of the protocol it breaks.

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/object"
	"padjig/cmd/padjig/station/reach"
	"padjig/fixture"
	"padjig/fixture/jigtest"
	"padjig/fixture/link"
)

// conformOptions are the flags of padjig jig conform.
type conformOptions struct {
	port, key       string
	only            []string
	baud, exchanges int
	patience        time.Duration
	moving, yes     bool
	hands, plug     bool
	json            bool
	terminal        terminal.Terminal // for prompts
	progress        *terminal.Progress
	input           *bufio.Reader // the person's answers
	suite           jigtest.Options
}

func newConform() *cobra.Command {
	var o conformOptions
	cmd := &cobra.Command{
		Use:   "conform --jig PORT",
		Short: "Try whether a jig does what every jig must do",
		Long: `Tries the jig protocol on a jig, sentence by sentence of docs/jig-protocol.md,
and reports for each whether the jig keeps it and what was seen where it does
not. It is meant for whoever builds a jig or writes firmware for one.

Take the unit out first: channels are driven, joined and read. Nothing moves
unless --moving says so. Then actuators press, many times, one and several at
a time, so it asks before it begins; --yes answers for scripts.

More can be tried when more is there:
  --key 7:1,6   a key in the nest under actuator 7 that joins channels 1 and 6
  --plug        the shorting plug in the nest (not with --key)
  --hands       you: it asks to open the interlock, press the emergency stop,
                and switch the jig off and on

Channels, actuators, ranges and operations are counted from 1, here and in what
was seen; the bytes of the protocol count from 0.

Exit status 0 if all that was tried is kept, 1 if something is broken, 3 if
there is no jig. What was omitted is listed and does not count as kept; what
had to be tried again is said with its case.`,
		Example: `  padjig jig conform --jig /dev/ttyACM0
  padjig jig conform --jig /dev/ttyACM0 --moving --hands
  padjig jig conform --jig J-0042 --plug --only "plug,plug reads"
  padjig jig conform --jig /tmp/jig0 --moving --yes --json`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error { return o.run(cmd) },
	}
	f := cmd.Flags()
	f.StringVar(&o.port, "jig", "", "`PORT` of the jig, or the jig's serial number")
	command.BaudFlag(cmd, &o.baud)
	f.BoolVar(&o.moving, "moving", false, "let actuators press")
	f.BoolVar(&o.yes, "yes", false, "with --moving: nest empty, hands away, do not ask")
	f.BoolVar(&o.hands, "hands", false, "ask for what only somebody beside the jig can do")
	f.StringVar(&o.key, "key", "", "a key in the nest, as `ACTUATOR:CHANNEL,CHANNEL`, from 1")
	f.BoolVar(&o.plug, "plug", false, "the shorting plug lies in the nest")
	f.IntVar(&o.exchanges, "exchanges", 10_000, "how many exchanges the long case makes")
	f.DurationVar(&o.patience, "patience", 60*time.Millisecond, "what a reply may take beyond line and jig")
	f.StringSliceVar(&o.only, "only", nil, "try only the cases with these `NAMES`")
	command.JSONFlag(cmd, &o.json)
	command.ProgressFlag(cmd)
	command.Group(f, command.OfJig, "jig", "key", "plug", "hands")
	command.Must(cmd.MarkFlagRequired("jig"))
	cmd.MarkFlagsMutuallyExclusive("key", "plug")
	return cmd
}

func (o *conformOptions) run(cmd *cobra.Command) error {
	o.terminal, o.input = terminal.Of(cmd.ErrOrStderr()), bufio.NewReader(cmd.InOrStdin())
	o.progress = command.Progress(cmd, "trying", "cases")
	if err := o.check(); err != nil {
		return err
	}
	if err := o.caution(cmd.Context()); err != nil {
		return err
	}
	port, err := reach.Port(cmd.Context(), o.port, link.Options{Baud: o.baud})
	if err != nil {
		return err
	}
	open := func(context.Context) (link.Stream, error) { return link.OpenPort(port, o.baud) }
	report, err := jigtest.Run(cmd.Context(), open, o.suite)
	o.progress.Clear()
	if err != nil {
		return command.Fail(command.NotMeasured, fmt.Errorf("try the jig at %s: %w", port, err), "")
	}
	if err := o.show(cmd.OutOrStdout(), report); err != nil {
		return err
	}
	if report.Count(jigtest.Broken) > 0 {
		return command.Quiet(command.Failed)
	}
	return nil
}

// check turns flags into what the suite is told.
func (o *conformOptions) check() error {
	o.suite = jigtest.Options{
		Moving: o.moving, Plug: o.plug, Only: o.only, Baud: o.baud, Exchanges: o.exchanges, Patience: o.patience,
		Progress: func(_ jigtest.Case, done, of int) { o.progress.At(int64(done), int64(of)) },
	}
	if o.hands {
		o.suite.Hands = o.askFor
	}
	if o.exchanges < 1 {
		return command.WrongUsef("--exchanges %d: at least 1", o.exchanges)
	}
	if o.key != "" {
		var key jigtest.Key
		if _, err := fmt.Sscanf(o.key+"\n", "%d:%d,%d\n", &key.Actuator, &key.A, &key.B); err != nil ||
			key.Actuator == 0 || key.A == 0 || key.B == 0 || key.A == key.B {
			return command.WrongUsef("--key %q: write actuator:channel,channel, counted from 1, such as 7:1,6", o.key)
		}
		o.suite.Key = &jigtest.Key{Actuator: key.Actuator - 1, A: key.A - 1, B: key.B - 1}
	}
	for _, name := range o.only {
		if !slices.ContainsFunc(jigtest.Cases(), func(c jigtest.Case) bool { return c.Name == name }) {
			return command.WrongUsef("--only %q: there is no such case; there are %s", name, strings.Join(caseNames(), ", "))
		}
	}
	return nil
}

func caseNames() []string {
	return command.Each(jigtest.Cases(), func(c jigtest.Case) string { return c.Name })
}

const (
	stillText = "Nothing will move. Channels are driven, joined and read: no unit should lie in the nest."

	cautionText = `CAUTION: actuators will press, many times, one and several at a time.
  - The nest is empty, or holds only what --key names.
  - The lid is closed, and the interlock works in the actuators' supply.
  - Hands, hair and sleeves stay clear until the report is there.
  - You know where the emergency stop is.
This program is no safety device. Your local codes and your employer's rules
come first, and the person who puts a jig into service answers for it; see
docs/safety.md.`
)

// caution says what is going to happen, and asks before anything moves.
func (o *conformOptions) caution(ctx context.Context) error {
	if !o.moving {
		fmt.Fprintln(o.terminal, o.terminal.Wrap(0, stillText))
		return nil
	}
	fmt.Fprintln(o.terminal, o.terminal.In(cautionText, terminal.Bold))
	if o.yes {
		return nil
	}
	fmt.Fprint(o.terminal, "Let them press? Type yes: ")
	answer, err := o.answer(ctx)
	if err != nil || strings.TrimSpace(answer) != "yes" {
		fmt.Fprintln(o.terminal)
		return command.Fail(command.Wrong, errors.New("nothing was moved: the answer was not yes"),
			"again with yes, with --yes, or without --moving")
	}
	return nil
}

// answer reads a line unless ctx ends before there is one.
func (o *conformOptions) answer(ctx context.Context) (line string, err error) {
	done := make(chan struct{})
	go func() {
		defer close(done)
		line, err = o.input.ReadString('\n')
	}()
	select {
	case <-done:
		return line, err
	case <-ctx.Done():
		return "", ctx.Err()
	}
}

// askFor has the person beside the jig act on it.
func (o *conformOptions) askFor(ctx context.Context, act jigtest.Act) error {
	o.progress.Clear()
	fmt.Fprintf(o.terminal, "%s, then press Enter: ", o.terminal.In("Please "+string(act), terminal.Bold))
	_, err := o.answer(ctx)
	if errors.Is(err, io.EOF) {
		fmt.Fprintln(o.terminal)
		return fmt.Errorf("nobody is there to %s", act)
	}
	return err
}

func (o *conformOptions) show(to io.Writer, r jigtest.Report) error {
	if o.json {
		return object.Print(to, object.ConformanceOf(r))
	}
	t := terminal.Of(to)
	printConform(t, r)
	if more := o.more(); more != "" && r.Count(jigtest.Omitted) > 0 {
		fmt.Fprintf(t, "more can be tried with %s; see --help\n", more)
	}
	return nil
}

// more lists the flags that were not given and with which more can be tried.
func (o *conformOptions) more() string {
	var flags []string
	for _, f := range []struct {
		name  string
		given bool
	}{{"--moving", o.moving}, {"--hands", o.hands}, {"--key", o.key != ""}, {"--plug", o.plug}} {
		if !f.given {
			flags = append(flags, f.name)
		}
	}
	return strings.Join(flags, ", ")
}

func printConform(t terminal.Terminal, r jigtest.Report) {
	caps := fixture.CapabilitiesOf(r.Identity)
	fmt.Fprintln(t, t.Wrap(2, introduce(caps)))
	fmt.Fprintln(t, t.Wrap(2, caps.Doubt()))
	chapter := ""
	for _, f := range r.Findings {
		if f.Chapter != chapter {
			chapter = f.Chapter
			fmt.Fprintf(t, "\n%s\n", t.In(chapter, terminal.Bold))
		}
		printFinding(t, f)
	}
	fmt.Fprintf(t, "\n%d kept, %d broken, %d omitted", r.Count(jigtest.Kept), r.Count(jigtest.Broken), r.Count(jigtest.Omitted))
	if n := r.Retried(); n > 0 {
		fmt.Fprintf(t, "; %d not at once", n)
	}
	fmt.Fprintln(t)
}

// findingIndent is where the text of a finding begins.
const findingIndent = 28

func printFinding(t terminal.Terminal, f jigtest.Finding) {
	word := map[jigtest.Outcome]string{
		jigtest.Kept:    "ok    ",
		jigtest.Broken:  t.In("BROKEN", terminal.Bold, terminal.Red),
		jigtest.Omitted: t.In("-     ", terminal.Dim),
	}[f.Outcome]
	fmt.Fprintf(t, "  %s  %-*s%s\n", word, findingIndent-10, f.Name, t.Wrap(findingIndent, "“"+f.Rule+"”"))
	lines := f.Retries()
	if f.Saw != "" {
		said := map[jigtest.Outcome]string{jigtest.Broken: "seen: ", jigtest.Omitted: "omitted: "}[f.Outcome]
		lines = slices.Insert(lines, 0, said+f.Saw)
	}
	for _, line := range lines {
		fmt.Fprintf(t, "%*s%s\n", findingIndent, "", t.Wrap(findingIndent, line))
	}
}
