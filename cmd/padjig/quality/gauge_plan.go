package quality

// padjig quality gauge plan: the order of a study is drawn beforehand, so that nobody chooses it.

import (
	"crypto/rand"
	"encoding/binary"
	"errors"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/station"
	"padjig/results/answers/gauge"
	"padjig/results/report"
	"padjig/results/studies"
	"padjig/sequence/product"
)

type gaugePlanOptions struct {
	answerForm
	product, store, by, note string
	parts, jigs, operators   []string
	repeats                  int
	seed                     uint64
}

func newGaugePlan() *cobra.Command {
	var o gaugePlanOptions
	cmd := &cobra.Command{
		Use:   "plan --product FILE --parts SERIALS --operator NAME",
		Short: "Plan a gauge study: the same parts again and again, in a drawn order",
		Long: `Lays out a crossed study and stores it: each part is measured by each jig, or by
each operator, so often as --repeats says, in an order that is drawn for each
repeat. Take parts that spread as production does, some of them near the limits
and, to learn how verdicts agree, some that fail. Ten parts, three jigs or
operators and two or three repeats are common practice.

Runs of a study are kept apart from production: they are no attempts and count
in no yield. --seed draws the same order again.`,
		Example: `  padjig quality gauge plan --product my-pad.yaml --parts A-1,A-2 --jigs J-1,J-2 --operator Ines
  padjig quality gauge plan --product my-pad.yaml --parts A-1 --appraisers Ann,Bob --operator Ines`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error { return o.run(cmd) },
	}
	o.flags(cmd)
	f := cmd.Flags()
	f.StringVar(&o.product, "product", "", "product `FILE`")
	f.StringSliceVar(&o.parts, "parts", nil, "`SERIALS` of the parts, with commas between")
	f.StringSliceVar(&o.jigs, "jigs", nil, "serial `NUMBERS` of the jigs that are compared")
	f.StringSliceVar(&o.operators, "appraisers", nil, "`NAMES` of the people that are compared, on one jig")
	f.IntVar(&o.repeats, "repeats", 2, "how often each measures each part")
	f.Uint64Var(&o.seed, "seed", 0, "draw the order with this `NUMBER`; without it one is drawn and shown")
	command.OperatorFlag(cmd, &o.by, "`NAME` of whoever plans it")
	f.StringVar(&o.note, "note", "", "what the study is for")
	command.StoreFlag(cmd, &o.store)
	command.Needs(cmd, "product", "parts")
	command.OperatorNeeded(cmd)
	cmd.MarkFlagsMutuallyExclusive("jigs", "appraisers")
	cmd.MarkFlagsOneRequired("jigs", "appraisers")
	return cmd
}

func (o *gaugePlanOptions) run(cmd *cobra.Command) error {
	p, err := command.LoadProduct(cmd, o.product)
	if err != nil {
		return err
	}
	study, err := o.study(p)
	if err != nil {
		return err
	}
	store, err := command.OpenStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	if err := command.As(cmd, store, &study.By, account.Deciding); err != nil {
		return err
	}
	if err := command.RecordsOf(store).CheckLabel(cmd.Context(), p); err != nil {
		return err
	}
	study, err = store.Studies.PlanStudy(cmd.Context(), station.RevisionOf(p), study)
	if errors.Is(err, studies.ErrStudy) {
		return command.WrongUse(err)
	}
	if err != nil {
		return command.Fail(command.NotRecorded, err, "")
	}
	return o.write(cmd, report.GaugePlan(study, command.StoreArgument(store)), nil)
}

// study draws the plan, or says everything that is wrong with it.
func (o *gaugePlanOptions) study(p *product.Product) (studies.Study, error) {
	study := studies.Study{
		Across: studies.AcrossJigs, Parts: o.parts, Appraisers: o.jigs, Repeats: o.repeats, Seed: o.seed, Note: o.note, By: o.by,
	}
	if len(o.operators) > 0 {
		study.Across, study.Appraisers = studies.AcrossOperators, o.operators
	}
	var wrong []error
	for _, part := range o.parts {
		if err := station.CheckSerial(p, part); err != nil {
			wrong = append(wrong, err)
		}
	}
	if study.Seed == 0 {
		study.Seed = drawnSeed()
	}
	plan, err := gauge.PlanStudy(len(study.Parts), len(study.Appraisers), study.Repeats, study.Seed)
	if err := errors.Join(append(wrong, err)...); err != nil {
		return study, command.WrongUse(err)
	}
	study.Plan = plan
	return study, nil
}

// drawnSeed is short enough to be written down.
func drawnSeed() uint64 {
	var b [8]byte
	_, _ = rand.Read(b[:]) // never fails
	return 1 + binary.LittleEndian.Uint64(b[:])%1_000_000
}
