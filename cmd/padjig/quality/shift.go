package quality

// padjig quality shift: what the next shift has to know, and that it was told.

import (
	"cmp"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/choice"
	"padjig/results/floor"
	"padjig/results/report"
)

type shiftOptions struct {
	selection
	stopFlags
	day, name, sign, note string
	set                   []string
	planZone, by, reason  string
}

func newShift() *cobra.Command {
	var o shiftOptions
	cmd := &cobra.Command{
		Use:   "shift",
		Short: "One page for whoever takes the shift over",
		Long: `Shows one shift: units and first-pass yield of each jig, what failed most, where
the stop rules were met, how calibrations and reference units stand, and the units
that failed and did not pass since. --sign records that the incoming lead has
taken it over.

--set says when the shifts are, for all runs from now on; what was stored before
keeps the shifts of its time. It needs --operator.`,
		Example: `  padjig quality shift --set "early 06:00-14:00" --set "late 14:00-22:00" --operator Ann
  padjig quality shift --day 2026-03-02 --name early
  padjig quality shift --day 2026-03-02 --name early --sign Bo --note "actuator 9 is watched"`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if len(o.set) > 0 {
				return o.plan(cmd)
			}
			return o.answerOf(cmd, choice.AShift, o.check(), func(s *results.Store, c choice.Chosen) (report.Document, error) {
				return o.ask(cmd, s, c.Selection)
			})
		},
	}
	o.selection.flags(cmd)
	f := cmd.Flags()
	f.StringVar(&o.day, "day", "", "`DAY` on which the shift began")
	f.StringVar(&o.name, "name", "", "`NAME` of the shift")
	f.StringVar(&o.sign, "sign", "", "`NAME` of the incoming lead, who takes the shift over")
	f.StringVar(&o.note, "note", "", "what the incoming lead wants to have written down")
	f.StringArrayVar(&o.set, "set", nil, "a `SHIFT` of the plan: its name and hours")
	f.StringVar(&o.planZone, "plan-zone", "", "time `ZONE` of the plan, such as Europe/Vienna")
	command.OperatorFlag(cmd, &o.by, "`NAME` of whoever sets the plan")
	f.StringVar(&o.reason, "reason", "", "why the plan is set")
	o.stopFlags.flags(cmd)
	return cmd
}

func (o *shiftOptions) check() error {
	wrong := []error{o.stopFlags.check()}
	if o.day == "" || o.name == "" {
		wrong = append(wrong, errors.New("--day and --name say which shift"))
	}
	if o.by != "" {
		wrong = append(wrong, errors.New("--operator belongs to --set; runs are chosen with --tested-by"))
	}
	if o.note != "" && o.sign == "" {
		wrong = append(wrong, errors.New("--note belongs to --sign"))
	}
	if o.from != "" || o.to != "" || o.span != "" || len(o.shifts) > 0 {
		wrong = append(wrong, errors.New("--from, --to, --span and --shift are those of the shift itself: leave them away"))
	}
	return errors.Join(wrong...)
}

// plan records when the shifts are.
func (o *shiftOptions) plan(cmd *cobra.Command) error {
	shifts, err := parsed(o.set, floor.ParseShift)
	p := floor.ShiftPlan{Zone: o.planZone, Shifts: shifts, By: o.by, Reason: o.reason}
	if command.SaysWho(cmd, o.by) {
		p.By = cmp.Or(o.by, "?") // whoever signs in, when the records are open
	}
	if wrong := p.Mistakes(); err == nil && len(wrong) > 0 {
		err = errors.New(strings.Join(wrong, "; "))
	}
	if err != nil {
		return command.WrongUse(err)
	}
	store, err := command.OpenStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	p.By = o.by
	if err := command.As(cmd, store, &p.By, account.Deciding); err != nil {
		return err
	}
	if err := store.Floor.SaveShifts(cmd.Context(), p); err != nil {
		return command.RecordsFailed(store, err)
	}
	fmt.Fprintf(cmd.OutOrStdout(), "recorded: from now on %s, %s\n",
		strings.Join(command.Each(shifts, floor.Shift.String), ", "), o.planZone)
	return nil
}

func (o *shiftOptions) ask(cmd *cobra.Command, s *results.Store, a answers.Selection) (report.Document, error) {
	q := answers.ShiftAsked{Selection: a, Name: o.name, Day: o.day, Rule: o.rule()}
	sh, err := answers.AskShift(cmd.Context(), s, q)
	if err == nil && o.sign != "" {
		if err := o.takeOver(cmd); err != nil {
			return report.Document{}, err
		}
		sh, err = answers.AskShift(cmd.Context(), s, q)
	}
	day, wrongDay := errors.AsType[*answers.NoDayError](err)
	switch {
	case errors.Is(err, answers.ErrNoShifts):
		return report.Document{}, command.Fail(command.Wrong, err,
			`padjig quality shift --set "early 06:00-14:00" --plan-zone Europe/Vienna --operator NAME`)
	case wrongDay:
		return report.Document{}, command.WrongUse(fmt.Errorf("--day: %w", day))
	case errors.Is(err, answers.ErrNoShift):
		return report.Document{}, command.Fail(command.Wrong, fmt.Errorf("there is no shift %q", o.name),
			"--name with one of "+sh.Plan.Names())
	case err != nil:
		return report.Document{}, err
	}
	return report.Shift(sh), nil
}

func (o *shiftOptions) takeOver(cmd *cobra.Command) error {
	store, err := command.OpenStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	if err := command.As(cmd, store, &o.sign, account.Deciding); err != nil {
		return err
	}
	err = store.Floor.SaveHandover(cmd.Context(), floor.Handover{Shift: o.name, Day: o.day, Simulated: o.simulated,
		By: o.sign, Note: o.note, At: time.Now()})
	if err != nil {
		return command.RecordsFailed(store, err)
	}
	return nil
}
