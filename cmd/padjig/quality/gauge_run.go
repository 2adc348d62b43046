package quality

// padjig quality gauge run: one reading of a study, by the order of any test.

import (
	"bufio"
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/command/testrun"
	"padjig/cmd/padjig/object"
	"padjig/cmd/padjig/station"
	"padjig/fixture"
	"padjig/results"
	"padjig/results/runs"
	"padjig/results/studies"
	"padjig/sequence"
	"padjig/sequence/product"
)

type gaugeRunOptions struct {
	testrun.Options
	all bool

	store   *results.Store
	product *product.Product
	study   studies.Study
}

func newGaugeRun() *cobra.Command {
	var o gaugeRunOptions
	cmd := &cobra.Command{
		Use:   "run STUDY --product FILE --jig PORT",
		Short: "Make the next measurement of a gauge study on this jig",
		Long: `Measures the part that the plan has next for this jig, or for this --operator,
and stores the run as a reading of the study. Take the part out of the nest and
put it in anew before every measurement, also when the same one comes twice:
seating is part of what is studied. A jig with an interlock counts that its lid was
opened in between, and refuses otherwise. A run without a verdict (reseat, incomplete,
aborted) is stored and is no reading; the same part is measured again.

--all goes on until this jig or operator is through, and waits before each
measurement for Enter; the end of the input stops it.

Exit status: 0 measured, whatever the verdict; 2 wrong use or nothing left to
measure; 3 could not measure; 4 could not record. With --json each reading is one
object: study, place (from 1), planned, measured, part, appraiser, run, verdict.`,
		Example: `  padjig quality gauge run 1 --product my-pad.yaml --jig J-0042
  padjig quality gauge run 2 --product my-pad.yaml --jig J-0042 --operator Ann --all`,
		Args: command.Exactly(1, oneStudy),
		RunE: func(cmd *cobra.Command, args []string) error { return o.run(cmd, args[0]) },
	}
	o.Flags(cmd, "`NAME` of whoever measures", "print one JSON object a reading")
	command.ActuationFlag(cmd, &o.Press, "mechanical or hand")
	cmd.Flags().BoolVar(&o.all, "all", false, "go on until this jig or operator is through")
	return cmd
}

func (o *gaugeRunOptions) run(cmd *cobra.Command, study string) error {
	how, err := command.Pressing(o.Press)
	if err != nil {
		return err
	}
	if how == sequence.Electrical {
		return command.WrongUsef("--actuation electrical: it reads the jig's own resistor and no key; write mechanical or hand")
	}
	if o.product, err = command.LoadProduct(cmd, o.Options.Product); err != nil {
		return err
	}
	if o.store, err = command.OpenStore(cmd.Context(), o.Options.Store); err != nil {
		return err
	}
	defer o.store.Close()
	if err := command.As(cmd, o.store, &o.Operator, account.Roles); err != nil {
		return err
	}
	if err := o.find(cmd, study); err != nil {
		return err
	}
	jig, closeJig, err := o.Open(cmd.Context())
	if err != nil {
		return err
	}
	defer func() { _ = closeJig() }() // readings are stored by then; a jig that cannot hang up spoils none
	appraiser, err := o.appraiser(jig.Capabilities().Serial)
	if err != nil {
		return err
	}
	return o.measure(cmd, jig, how, appraiser)
}

// find looks the study up and holds the product file against it.
func (o *gaugeRunOptions) find(cmd *cobra.Command, argument string) (err error) {
	if o.study, err = studyOf(cmd, o.store, argument); err != nil {
		return err
	}
	if hash := o.product.Hash(); hash != o.study.Hash {
		return command.Fail(command.Wrong, fmt.Errorf("study %d measures %s %s as it was planned (%.12s), %s is another revision (%.12s)",
			o.study.Number, o.study.Product, o.study.Revision, o.study.Hash, o.Options.Product, hash),
			"the product file of then, or a new study")
	}
	return nil
}

// appraiser is who measures: the jig or the operator, whichever is compared.
func (o *gaugeRunOptions) appraiser(jig string) (string, error) {
	who, planned := o.study.Appraiser(jig, o.Operator)
	if who == "" {
		return "", command.WrongUsef("study %d compares operators (%s): say which with --operator", o.study.Number, strings.Join(o.study.Appraisers, ", "))
	}
	if !planned {
		return "", command.WrongUsef("%s %q is not in study %d, which compares %s", o.study.Across, who, o.study.Number, strings.Join(o.study.Appraisers, ", "))
	}
	return who, nil
}

// measure makes the next reading, or all of them.
func (o *gaugeRunOptions) measure(cmd *cobra.Command, jig *fixture.Jig, how sequence.Actuation, appraiser string) error {
	input := bufio.NewScanner(cmd.InOrStdin())
	place, ok := o.study.Next(appraiser)
	if !ok {
		return command.Fail(command.Wrong, fmt.Errorf("%s has taken all of its readings of study %d", appraiser, o.study.Number),
			fmt.Sprintf("padjig quality gauge result %d%s", o.study.Number, command.StoreArgument(o.store)))
	}
	for ok {
		if o.all && !o.seated(cmd, input, place) {
			return nil
		}
		if err := o.reading(cmd, jig, how, place, appraiser); err != nil {
			return err
		}
		var err error
		if o.study, err = o.store.Studies.Study(cmd.Context(), o.study.Number); err != nil {
			return command.Fail(command.NotRecorded, err, "")
		}
		place, ok = o.study.Next(appraiser)
		if !o.all {
			o.tellNext(cmd, place, ok)
			return nil
		}
	}
	return nil
}

// seated waits until the part lies in the nest; false at the end of the input.
func (o *gaugeRunOptions) seated(cmd *cobra.Command, input *bufio.Scanner, place int) bool {
	fmt.Fprintf(cmd.ErrOrStderr(), "%s, then press Enter\n", o.seat(place))
	return input.Scan()
}

func (o *gaugeRunOptions) seat(place int) string {
	return fmt.Sprintf("empty the nest and put part %s in", o.study.Parts[o.study.Plan[place].Part])
}

func (o *gaugeRunOptions) tellNext(cmd *cobra.Command, place int, ok bool) {
	if o.JSON {
		return
	}
	if ok {
		fmt.Fprintf(cmd.OutOrStdout(), "next: %s, then the same command again\n", o.seat(place))
		return
	}
	fmt.Fprintf(cmd.OutOrStdout(), "next: nothing; it is through\n")
}

func (o *gaugeRunOptions) reading(cmd *cobra.Command, jig *fixture.Jig, how sequence.Actuation, place int, appraiser string) error {
	part := o.study.Parts[o.study.Plan[place].Part]
	job := station.Job{Product: o.product, Serial: part, Operator: o.Operator, How: how, Study: true}
	return command.RecordsOf(o.store).Test(cmd.Context(), job, station.Hooks{
		Open: station.Held(jig), Watcher: testrun.PromptsOnly{Terminal: terminal.Of(cmd.ErrOrStderr())},
		Keep: func(ctx context.Context, run runs.Stored) error { return o.keep(ctx, place, run) },
		Show: func(done station.Done) error {
			r := object.GaugeReading{
				Study: o.study.Number, Place: place + 1, Planned: len(o.study.Plan), Measured: len(o.study.Readings), Part: part,
				Appraiser: appraiser, Run: done.ID.String(), Verdict: string(done.Outcome), Reason: done.Reason, Simulated: done.Simulated,
			}
			if studies.Taken(done.Stored) {
				r.Measured++
			}
			return o.tell(cmd, r, studies.Taken(done.Stored))
		},
	})
}

func (o *gaugeRunOptions) keep(ctx context.Context, place int, run runs.Stored) error {
	if err := o.store.Studies.KeepReading(ctx, o.study.Number, place, run); err != nil {
		return command.Fail(command.NotRecorded, err, "measure this part again when the records are in order: padjig records check"+command.StoreArgument(o.store))
	}
	return nil
}

func (o *gaugeRunOptions) tell(cmd *cobra.Command, r object.GaugeReading, taken bool) error {
	if o.JSON {
		if err := object.Print(cmd.OutOrStdout(), r); err != nil {
			return command.Fail(command.NotRecorded, fmt.Errorf("print the reading: %w", err), "the run is stored")
		}
	} else if taken {
		simulated := ""
		if r.Simulated {
			simulated = ", SIMULATED"
		}
		fmt.Fprintf(cmd.OutOrStdout(), "study %d, %d of %d: part %s by %s, verdict %s%s\n",
			r.Study, r.Measured, r.Planned, r.Part, r.Appraiser, r.Verdict, simulated)
	}
	if !taken {
		return command.Fail(command.NotMeasured, fmt.Errorf("part %s gave no reading (%s): %s", r.Part, r.Verdict, r.Reason),
			o.seat(r.Place-1)+", then the same command again")
	}
	return nil
}
