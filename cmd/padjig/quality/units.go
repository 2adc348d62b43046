package quality

// padjig quality units: which units stand behind a point, a bar or a cell.

import (
	"errors"
	"fmt"
	"net/url"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/units"
	"padjig/results/report"
)

type unitsOptions struct {
	selection
	runs, verdict, cause, is, measure, key, low, high, pin, on, among string

	worst bool
	last  int
}

func newUnits() *cobra.Command {
	var o unitsOptions
	cmd := &cobra.Command{
		Use:   "units",
		Short: "List the units behind a figure",
		Long: `Lists units with their serial number, when and how they were judged first, and a
reading of one key if it is asked for: those behind one point of a chart (--runs),
one bar of causes (--cause and --is), one bar of a distribution (--measure, --key,
--low and --high), one probe with doubtful contact (--pin and --on), or all that
failed (--verdict fail). padjig unit SERIAL shows
every run of one of them.`,
		Example: `  padjig quality units --product GCC-20 --verdict fail --from 2026-03-02
  padjig quality units --product GCC-20 --is "key open" --worst
  padjig quality units --product GCC-20 --measure contact --key 7 --low 90
  padjig quality units --product GCC-20 --runs 120-124 --csv`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error { return o.run(cmd) },
	}
	o.flags(cmd)
	f := cmd.Flags()
	f.StringVar(&o.runs, units.Runs, "", "of runs with these `NUMBERS`, the first and the last: 120-124")
	f.StringVar(&o.verdict, units.Verdict, "", "that were judged like this at first: pass or fail")
	f.StringVar(&o.cause, units.Cause, string(answers.DefaultCause), "what --is names: finding, place, key, line or channel")
	f.StringVar(&o.is, units.Is, "", "with this `CAUSE` among their defects")
	f.BoolVar(&o.worst, units.Worst, false, "as their worst defect only")
	f.StringVar(&o.measure, units.Measure, "", "with this reading of --key: contact, closing, opening, forward or reverse")
	f.StringVar(&o.key, units.Key, "", "the key with this `LABEL`")
	f.StringVar(&o.low, units.Low, "", "readings from this `VALUE` on")
	f.StringVar(&o.high, units.High, "", "readings below this `VALUE`")
	f.StringVar(&o.pin, units.Pin, "", "with doubtful contact at the pin of this `NUMBER`, in any of their runs")
	f.StringVar(&o.on, units.On, "", "on the `JIG` of this serial number, with --pin")
	f.StringVar(&o.among, units.Among, "", "in runs with these `NUMBERS`, with --pin: 120-9000")
	f.IntVar(&o.last, "last", answers.Last, "list the newest `N` units")
	return cmd
}

func (o *unitsOptions) run(cmd *cobra.Command) error {
	v := url.Values{units.Runs: {o.runs}, units.Verdict: {o.verdict}, units.Cause: {o.cause}, units.Is: {o.is}, units.Measure: {o.measure},
		units.Key: {o.key}, units.Low: {o.low}, units.High: {o.high},
		units.Pin: {o.pin}, units.On: {o.on}, units.Among: {o.among}}
	if o.worst {
		v.Set(units.Worst, "1")
	}
	behind, wrong := units.Parse(v)
	if o.last < 1 {
		wrong = errors.Join(wrong, fmt.Errorf("--last %d: write 1 or more", o.last))
	}
	return o.answer(cmd, wrong, func(s *results.Store, a answers.Selection) (report.Document, error) {
		u, err := units.AskUnits(cmd.Context(), s, units.UnitsAsked{Selection: a, Behind: behind, Last: o.last})
		return report.Units(u), err
	})
}
