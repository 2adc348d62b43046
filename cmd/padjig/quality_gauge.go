package main

import (
	"crypto/rand"
	"encoding/binary"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/station"
	"padjig/results"
	"padjig/results/answers/gauge"
	"padjig/results/lines"
	"padjig/results/report"
	"padjig/results/store"
	"padjig/results/studies"
	"padjig/sequence/product"
)

func newQualityGauge() *cobra.Command {
	return group("gauge", "Find out how far the jigs' readings can be trusted",
		`  padjig quality gauge plan --product my-pad.yaml --parts A-1,A-2 --jigs J-1,J-2 --operator Ines
  padjig quality gauge run 1 --product my-pad.yaml --jig J-0042
  padjig quality gauge result 1`,
		newGaugePlan(), newGaugeRun(), newGaugeList(), newGaugeResult(), newGaugeLinearity(), newGaugeStability())
}

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
		Args: exactly(0, "none, only flags"),
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
	f.StringVar(&o.by, "operator", "", "`NAME` of whoever plans it")
	f.StringVar(&o.note, "note", "", "what the study is for")
	storeFlag(cmd, &o.store)
	needs(cmd, "product", "parts", "operator")
	cmd.MarkFlagsMutuallyExclusive("jigs", "appraisers")
	cmd.MarkFlagsOneRequired("jigs", "appraisers")
	return cmd
}

func (o *gaugePlanOptions) run(cmd *cobra.Command) error {
	p, err := loadProduct(cmd, o.product)
	if err != nil {
		return err
	}
	study, err := o.study(p)
	if err != nil {
		return err
	}
	store, err := openStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	if err := recordsOf(store).CheckLabel(cmd.Context(), p); err != nil {
		return err
	}
	study, err = store.Studies.PlanStudy(cmd.Context(), station.RevisionOf(p), study)
	if errors.Is(err, studies.ErrStudy) {
		return wrongUse(err)
	}
	if err != nil {
		return fail(statusNotRecorded, err, "")
	}
	return o.write(cmd, report.GaugePlan(study, storeArgument(store)), nil)
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
		return study, wrongUse(err)
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

func newGaugeList() *cobra.Command {
	var o answerForm
	var path string
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "List gauge studies, and how far each has come",
		Example: `  padjig quality gauge list`,
		Args:    exactly(0, "none, only flags"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			store, err := readStore(cmd.Context(), path)
			if err != nil {
				return err
			}
			defer store.Close()
			list, err := store.Studies.Studies(cmd.Context())
			if err != nil {
				return fail(statusNotRecorded, err, "")
			}
			return o.write(cmd, report.GaugeList(list), nil)
		},
	}
	o.flags(cmd)
	storeFlag(cmd, &path)
	return cmd
}

const oneStudy = "the number of one study"

// studyOf finds the study that an argument names.
func studyOf(cmd *cobra.Command, s *results.Store, argument string) (studies.Study, error) {
	number, err := strconv.ParseInt(strings.TrimSpace(argument), 10, 64)
	if err != nil || number < 1 {
		return studies.Study{}, wrongUsef("study %q: write its number, such as 1; padjig quality gauge list shows them", argument)
	}
	study, err := s.Studies.Study(cmd.Context(), number)
	if errors.Is(err, store.ErrNotFound) {
		return study, fail(statusWrong, fmt.Errorf("there is no gauge study %d in %s", number, s.Path()),
			"padjig quality gauge list"+storeArgument(s))
	}
	if err != nil {
		return study, fail(statusNotRecorded, err, "")
	}
	return study, nil
}

// measures says what --measure takes.
const measures = "`MEASURE`: contact (resistance), closing or opening (bounce), forward or reverse (diode)"

// measureFlag adds --measure.
func measureFlag(cmd *cobra.Command, into *string) {
	cmd.Flags().StringVar(into, "measure", string(lines.Contact), measures)
}

func measureOf(name string) (lines.Measure, error) {
	m, err := lines.ParseMeasure(name)
	if err != nil {
		return "", wrongUsef("--measure %q: %w", name, err)
	}
	return m, nil
}
