package quality

// padjig quality stops: which lines stopped themselves, and who lets them go on.

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/choice"
	"padjig/results/report"
	"padjig/results/stops"
)

type stopsOptions struct {
	selection
	lift             int64
	by, reason, note string
}

func newStops() *cobra.Command {
	var o stopsOptions
	cmd := &cobra.Command{
		Use:   "stops",
		Short: "Where a line stopped itself, and let it go on",
		Long: `Lists the stops, those that hold first: which rule of the product was met on which
jig, at which key, lines or pins, for how long, and why it was lifted by whom. While
a stop holds, padjig tests no unit of that product on that jig, at the terminal as at
the station, but reference units and gauge studies; one that is a single unit's
keeps that unit alone from being tested there.

--lift lets the line go on. It takes whoever is in charge of quality or the fixture
engineer, and what was the matter, one of:

  material       the units: a lot of a material was bad or was changed
  cleaned        probes or nest were cleaned
  replaced       a probe or another part of the jig was replaced
  adjusted       the jig was set or repaired
  handling       units were put in wrongly, and how to was shown
  nothing found  it was looked for, and nothing was found

From then on the rules count anew.`,
		Example: `  padjig quality stops
  padjig quality stops --jig J-0042 --from 2026-03-02
  padjig quality stops --lift 3 --reason cleaned --operator "Quinn Doe" --note "probe 4"`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error { return o.run(cmd) },
	}
	o.flags(cmd)
	f := cmd.Flags()
	f.Int64Var(&o.lift, "lift", 0, "lift the stop with this `NUMBER`")
	command.OperatorFlag(cmd, &o.by, "`NAME` of whoever lifts it")
	f.StringVar(&o.reason, "reason", "", "what was the `MATTER`")
	f.StringVar(&o.note, "note", "", "anything worth keeping, such as which probe")
	command.Must(cmd.RegisterFlagCompletionFunc("reason", cobra.FixedCompletions(reasonNames(), cobra.ShellCompDirectiveNoFileComp)))
	return cmd
}

func reasonNames() []string {
	return command.Each(stops.Reasons(), func(r stops.Reason) string { return string(r) })
}

func (o *stopsOptions) run(cmd *cobra.Command) error {
	if cmd.Flags().Changed("lift") {
		return o.letGoOn(cmd)
	}
	var wrong error
	if o.by != "" || o.reason != "" || o.note != "" {
		wrong = errors.New("--operator, --reason and --note belong to --lift; runs are chosen with --tested-by")
	}
	return o.answerOf(cmd, choice.Stops, wrong, func(s *results.Store, c choice.Chosen) (report.Document, error) {
		l, err := answers.AskStops(cmd.Context(), s, answers.StopsAsked{Selection: c.Selection})
		return report.LineStops(l), err
	})
}

// letGoOn lifts a stop.
func (o *stopsOptions) letGoOn(cmd *cobra.Command) error {
	var wrong []error
	if !command.SaysWho(cmd, o.by) {
		wrong = append(wrong, errors.New("--operator is missing: name who lifts the stop"))
	}
	reason := stops.Reason(strings.ReplaceAll(strings.ToLower(strings.TrimSpace(o.reason)), "-", " "))
	if !slices.Contains(stops.Reasons(), reason) {
		wrong = append(wrong, fmt.Errorf("--reason %q: write %s", o.reason, strings.Join(reasonNames(), ", ")))
	}
	if err := errors.Join(wrong...); err != nil {
		return command.WrongUse(err)
	}
	store, err := command.OpenStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	if err := command.As(cmd, store, &o.by, account.Deciding); err != nil {
		return err
	}
	lifted, err := store.Stops.Lift(cmd.Context(), o.lift, stops.Lifting{By: o.by, Reason: reason, Note: o.note})
	_, before := errors.AsType[*stops.LiftedError](err)
	switch {
	case before, errors.Is(err, stops.ErrNoStop):
		return command.Fail(command.Wrong, err, "padjig quality stops"+command.StoreArgument(store)+", which hold")
	case err != nil:
		return command.RecordsFailed(store, err)
	}
	what := fmt.Sprintf("%s is tested on jig %s again", lifted.Product, lifted.Jig)
	if lifted.Unit != "" {
		what = fmt.Sprintf("unit %s is tested on jig %s again", lifted.Unit, lifted.Jig)
	}
	fmt.Fprintf(cmd.OutOrStdout(), "recorded: stop %d lifted after %s; %s\n", lifted.Number, lifted.Lifted.Took.Round(time.Second), what)
	return nil
}
