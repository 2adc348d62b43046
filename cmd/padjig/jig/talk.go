package jig

// padjig jig talk: what went over the line, for whoever has to find out why a jig is silent.

import (
	"context"
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/output"
	"padjig/cmd/padjig/station/reach"
	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/fixture/wire"
)

func newTalk() *cobra.Command {
	var port, recording, record string
	var baud int
	cmd := &cobra.Command{
		Use:   "talk --jig PORT | --recording FILE",
		Short: "Print the traffic with a jig as text",
		Long: `Prints what goes over the line, one line a frame: seconds since the start, who
speaks, session and nonce of the conversation, the tag, and what the frame says.

With --jig it says hello to the jig, asks for its status, and has it read its
own check resistors; nothing moves. With --recording it prints what was
written by padjig test --record.`,
		Example: `  padjig jig talk --jig /dev/ttyACM0
  padjig jig talk --recording traffic.txt`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			t := &listing{to: cmd}
			if recording != "" {
				return t.replay(recording)
			}
			return t.live(port, record, baud)
		},
	}
	f := cmd.Flags()
	f.StringVar(&port, "jig", "", "`PORT` of the jig, or the jig's serial number")
	f.StringVar(&recording, "recording", "", "print a recording from `FILE`")
	f.StringVar(&record, "record", "", "with --jig: write the traffic to `FILE` too")
	command.BaudFlag(cmd, &baud)
	cmd.MarkFlagsOneRequired("jig", "recording")
	cmd.MarkFlagsMutuallyExclusive("jig", "recording")
	cmd.MarkFlagsMutuallyExclusive("record", "recording")
	return cmd
}

// listing prints frames as they come.
type listing struct {
	to   *cobra.Command
	wire wire.Listing
}

func (l *listing) print(e link.Event) {
	fmt.Fprintf(l.to.OutOrStdout(), "%10.6f %s\n", e.At.Seconds(), l.wire.Line(e.Frame))
}

func (l *listing) replay(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return command.Fail(command.Wrong, fmt.Errorf("open recording: %w", err), "a file written by padjig test --record")
	}
	defer f.Close()
	events, err := link.ReadRecording(f)
	for _, e := range events {
		l.print(e)
	}
	if err != nil {
		return command.Fail(command.Wrong, fmt.Errorf("%s: %w", path, err), "a file written by padjig test --record")
	}
	return nil
}

func (l *listing) live(port, record string, baud int) error {
	trace, closed, err := l.traced(record)
	if err != nil {
		return err
	}
	ctx := l.to.Context()
	jig, err := reach.Jig(ctx, port, link.Options{Baud: baud, Trace: trace})
	if err != nil {
		return errors.Join(err, closed())
	}
	checks, err := selfTest(ctx, jig)
	if err = errors.Join(err, jig.Close(), closed()); err != nil {
		return command.Fail(command.NotMeasured, fmt.Errorf("talk to jig %s: %w", jig.Capabilities().Serial, err), "")
	}
	out, caps := l.to.OutOrStdout(), jig.Capabilities()
	fmt.Fprintf(out, "\n%s\n%s\n", introduce(caps), caps.Doubt())
	for i, r := range checks {
		fmt.Fprintf(out, "check resistor %d of %v reads %v\n", i+1, caps.Checks[i].Ohm, r)
	}
	return nil
}

// traced gives what to do with each frame, and how to end it.
func (l *listing) traced(record string) (func(link.Event), func() error, error) {
	if record == "" {
		return l.print, func() error { return nil }, nil
	}
	r, err := output.NewRecording(record, "")
	if err != nil {
		return nil, nil, err
	}
	write := link.Record(r)
	return func(e link.Event) { write(e); l.print(e) }, r.Close, nil
}

// checkSamples is enough for four digits.
const checkSamples = 64

// selfTest asks whether the jig would move, and reads its check resistors.
func selfTest(ctx context.Context, jig *fixture.Jig) (checks []fixture.Resistance, err error) {
	if err := jig.Unbar(ctx); err != nil {
		return nil, err
	}
	caps := jig.Capabilities()
	routine := fixture.NewRoutine(caps)
	var slots []fixture.Slot
	for i := range caps.Checks {
		slots = append(slots, routine.Check(i, checkSamples))
	}
	err = jig.Perform(ctx, []*fixture.Routine{routine}, func(_ int, d fixture.Done) error {
		for _, slot := range slots {
			checks = append(checks, d.Resistance(slot))
		}
		return nil
	})
	return checks, err
}
