package quality

// padjig quality gauge result: what of the spread is the gauge's.

import (
	"errors"
	"slices"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results/answers"
	"padjig/results/answers/gauge"
	"padjig/results/report"
	"padjig/results/studies"
)

type gaugeResultOptions struct {
	answerForm
	store, measure, key string
	confidence, guard   float64
	keep                bool
	good, bad           []string
}

func newGaugeResult() *cobra.Command {
	var o gaugeResultOptions
	cmd := &cobra.Command{
		Use:   "result STUDY",
		Short: "Say what a gauge study found",
		Long: `Analyses a study: for each key, how much one reading scatters, what that takes
of the tolerance, and what it does to good and bad units; for one key - the one
asked for, or the worst - the analysis of variance and the components with their
intervals; and how the verdicts agree (Fleiss' kappa).

Parts are tested against the interaction while it is in the model; it is pooled
with the error when its p is above 0.25, unless --keep. Negative components are
set to zero and shown as estimated. With one limit, the tolerance is twice the
distance from the mean of the parts to it. The numbers stand in
docs/statistics.md with their sources.

Incomplete repeats are left out; two complete ones are needed.`,
		Example: `  padjig quality gauge result 1
  padjig quality gauge result 1 --key 7 --confidence 0.9 --guard 1
  padjig quality gauge result 1 --bad GCC-000004-7,GCC-000009-6 --good GCC-000001-3 --json
  padjig quality gauge result 1 --measure closing --html gauge.html`,
		Args: command.Exactly(1, oneStudy),
		RunE: func(cmd *cobra.Command, args []string) error { return o.run(cmd, args[0]) },
	}
	o.flags(cmd)
	f := cmd.Flags()
	f.StringVar(&o.key, "key", "", "show the key with this `LABEL` in full")
	f.Float64Var(&o.confidence, "confidence", answers.Confidence, "of the intervals")
	f.Float64Var(&o.guard, "guard", 0, "guard band as a multiple of U = 2 u of the gauge")
	f.BoolVar(&o.keep, "keep", false, "keep the interaction in the model")
	f.StringSliceVar(&o.good, "good", nil, "parts known to be good, by `SERIAL`")
	f.StringSliceVar(&o.bad, "bad", nil, "parts known to be bad, by `SERIAL`")
	measureFlag(cmd, &o.measure)
	command.StoreFlag(cmd, &o.store)
	return cmd
}

func (o *gaugeResultOptions) run(cmd *cobra.Command, argument string) error {
	m, err := measureOf(o.measure)
	if err = errors.Join(err, confident(o.confidence)); err != nil {
		return command.WrongUse(err)
	}
	store, err := command.ReadStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	a := gauge.GaugeAsked{Measure: m, Key: o.key, Confidence: o.confidence, Keep: o.keep, Guard: o.guard}
	if a.Study, err = studyOf(cmd, store, argument); err != nil {
		return err
	}
	if a.Known, err = o.known(a.Study); err != nil {
		return err
	}
	g, err := gauge.AskGauge(cmd.Context(), store, a)
	if err != nil {
		return command.WrongUse(err)
	}
	return o.write(cmd, report.GaugeResult(g), nil)
}

// known sorts the parts of which something is known.
func (o *gaugeResultOptions) known(study studies.Study) (map[string]bool, error) {
	known := map[string]bool{}
	var wrong []error
	for _, list := range []struct {
		parts []string
		bad   bool
	}{{o.good, false}, {o.bad, true}} {
		for _, part := range list.parts {
			if was, twice := known[part]; twice && was != list.bad {
				wrong = append(wrong, command.WrongUsef("part %s is named good and bad", part))
			}
			if !slices.Contains(study.Parts, part) {
				wrong = append(wrong, command.WrongUsef("part %s is not in study %d", part, study.Number))
			}
			known[part] = list.bad
		}
	}
	if wrong != nil {
		return nil, command.WrongUse(errors.Join(wrong...))
	}
	return known, nil
}
