package quality

// padjig quality gauge: how far the jigs' readings can be trusted; what its commands share.

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results"
	"padjig/results/lines"
	"padjig/results/store"
	"padjig/results/studies"
)

func newGauge() *cobra.Command {
	return command.Noun("gauge", "Find out how far the jigs' readings can be trusted",
		`  padjig quality gauge plan --product my-pad.yaml --parts A-1,A-2 --jigs J-1,J-2 --operator Ines
  padjig quality gauge run 1 --product my-pad.yaml --jig J-0042
  padjig quality gauge result 1`,
		newGaugePlan(), newGaugeRun(), newGaugeList(), newGaugeResult(), newGaugeLinearity(), newGaugeStability())
}

const oneStudy = "the number of one study"

// studyOf finds the study that an argument names.
func studyOf(cmd *cobra.Command, s *results.Store, argument string) (studies.Study, error) {
	number, err := strconv.ParseInt(strings.TrimSpace(argument), 10, 64)
	if err != nil || number < 1 {
		return studies.Study{}, command.WrongUsef("study %q: write its number, such as 1; padjig quality gauge list shows them", argument)
	}
	study, err := s.Studies.Study(cmd.Context(), number)
	if errors.Is(err, store.ErrNotFound) {
		return study, command.Fail(command.Wrong, fmt.Errorf("there is no gauge study %d in %s", number, s.Path()),
			"padjig quality gauge list"+command.StoreArgument(s))
	}
	if err != nil {
		return study, command.Fail(command.NotRecorded, err, "")
	}
	return study, nil
}

// measures says what --measure takes.
const (
	measures = keyMeasures + ", insulation (lg of ohm),\nloop (at a pin), step or machine (time)"

	// keyMeasures are those that are stored with each key.
	keyMeasures = "`MEASURE`: contact (resistance), closing or opening (bounce),\nforward or reverse (diode)"
)

// measureFlag adds --measure.
func measureFlag(cmd *cobra.Command, into *string) {
	cmd.Flags().StringVar(into, "measure", string(lines.Contact), keyMeasures)
}

func measureOf(name string) (lines.Measure, error) {
	m, err := lines.ParseMeasure(name)
	if err != nil {
		return "", command.WrongUsef("--measure %q: %w", name, err)
	}
	if _, stored := lines.MeasureColumns[m]; !stored {
		return "", command.WrongUsef("--measure %q: not of this: write contact, closing, opening, forward or reverse", name)
	}
	return m, nil
}

// confident refuses a confidence that is none.
func confident(c float64) error {
	if c > 0 && c < 1 {
		return nil
	}
	return command.WrongUsef("--confidence %v: write a number between 0 and 1, such as 0.95", c)
}
