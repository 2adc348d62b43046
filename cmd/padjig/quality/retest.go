package quality

// padjig quality retest: what testing again does to good and bad units.

import (
	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results/answers/plans"
	"padjig/results/report"
)

type retestOptions struct {
	answerForm
	falseReject, falseAccept, sticks, bad shareFlag
	tests                                 int
	all                                   bool
}

func newRetest() *cobra.Command {
	var o retestOptions
	cmd := &cobra.Command{
		Use:   "retest",
		Short: "See what testing again lets through, scraps and costs",
		Long: `Takes the two errors of one test - a good unit fails, a bad one passes - and the
share of bad units, and shows what each policy makes of them: one test, reseat
once after a fail (any of 2 passes), any of 3 passes, all of 2 must pass. --tests and --all name the
policy in force. padjig quality gauge result gives the two errors of a gauge.

--sticks is the chance that testing a unit again only repeats the verdict before,
whatever the unit is: 0 is the most hopeful, 1 makes a retest worthless.`,
		Example: `  padjig quality retest --false-reject 0.5% --false-accept 2% --bad 0.3%
  padjig quality retest --false-reject 0.5% --false-accept 2% --bad 0.3% --tests 3 --sticks 40%
  padjig quality retest --false-reject 0.01 --false-accept 0.1 --bad 0.02 --tests 2 --all --json`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error { return o.run(cmd) },
	}
	o.flags(cmd)
	shareVar(cmd, &o.falseReject, "false-reject", 0, "chance that a test fails a good unit")
	shareVar(cmd, &o.falseAccept, "false-accept", 0, "chance that a test passes a bad unit")
	shareVar(cmd, &o.bad, "bad", 0, "share of bad units before the test")
	shareVar(cmd, &o.sticks, "sticks", 0, "chance that a retest only repeats")
	cmd.Flags().IntVar(&o.tests, "tests", 2, "tests a unit gets at most under the policy in force")
	cmd.Flags().BoolVar(&o.all, "all", false, "all tests must pass; without it one pass is enough")
	for _, name := range []string{"false-reject", "false-accept", "bad"} {
		command.Must(cmd.MarkFlagRequired(name))
	}
	return cmd
}

func (o *retestOptions) run(cmd *cobra.Command) error {
	const mostTests = 1000
	if o.tests < 1 || o.tests > mostTests {
		return command.WrongUsef("--tests %d: write 1 to %d", o.tests, mostTests)
	}
	r, err := plans.AskRetest(plans.RetestAsked{
		Errors: plans.TestErrors{FalseReject: float64(o.falseReject), FalseAccept: float64(o.falseAccept),
			Sticks: float64(o.sticks)},
		Bad: float64(o.bad), Current: plans.RetestPolicy{Tests: o.tests, AllPass: o.all && o.tests > 1},
	})
	if err != nil {
		return command.WrongUse(err)
	}
	return o.write(cmd, report.Retest(r), nil)
}
