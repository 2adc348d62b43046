package jig

// padjig jig history: a drift is seen before it is a failure.

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/object"
	"padjig/results"
	"padjig/results/care"
	"padjig/results/floor"
	"padjig/sequence"
	"padjig/sequence/calibrate"
	"padjig/sequence/wording"
)

func newHistory() *cobra.Command {
	var store string
	var asJSON, simulated bool
	cmd := &cobra.Command{
		Use:   "history JIG",
		Short: "Show the calibrations of a jig and how it drifts",
		Long: `Shows every zero and verification of a jig, how it stands now, and how each
channel and each range drifted: one mark for each calibration, from ▁ at the
lower limit to █ at the upper one, ! beyond. JIG is the jig's serial number; no
jig need be connected.`,
		Example: `  padjig jig history J-0042
  padjig jig history J-0042 --json`,
		Args: command.Exactly(1, oneJig),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := command.ReadStore(cmd.Context(), store)
			if err != nil {
				return err
			}
			defer s.Close()
			return showHistory(cmd, s, args[0], simulated, asJSON)
		},
	}
	command.JSONFlag(cmd, &asJSON)
	cmd.Flags().BoolVar(&simulated, "simulated", false, "of a simulated jig")
	command.StoreFlag(cmd, &store)
	return cmd
}

func showHistory(cmd *cobra.Command, s *results.Store, jig string, simulated, asJSON bool) error {
	list, err := s.Care.Calibrations(cmd.Context(), jig, simulated)
	if err != nil {
		return command.RecordsFailed(s, err)
	}
	state, err := s.Care.DueState(cmd.Context(), jig, simulated, time.Now())
	if err != nil {
		return command.RecordsFailed(s, err)
	}
	commissioned, err := s.Care.Commissionings(cmd.Context(), jig, simulated)
	if err != nil {
		return command.RecordsFailed(s, err)
	}
	t := terminal.Of(cmd.OutOrStdout())
	switch {
	case asJSON:
		return object.Print(t, object.CalibrationsOf(jig, state, list))
	case len(list) == 0:
		return command.Fail(command.Wrong, fmt.Errorf("jig %s was never calibrated, as far as %s knows", jig, s.Path()),
			"--simulated for a simulated jig, or: padjig jig zero --jig "+jig)
	}
	clock, err := command.PlantClock(cmd.Context(), s)
	if err != nil {
		return err
	}
	fmt.Fprintf(t, "jig %s%s %s and %s\n\n", jig, command.OnSimulated(simulated), state.Zero.Said(clock), state.Verify.Said(clock))
	for _, c := range list {
		fmt.Fprintf(t, "%3d. %s  %-6s  %-16s  %s%s\n", c.Seq, clock.Exact(c.Performed), c.Kind,
			goodWord(c.Good), strings.TrimSpace(c.BoxSerial+" "+c.Certificate), command.By(c.Operator))
	}
	for _, c := range commissioned {
		fmt.Fprintln(t, t.Wrap(2, commissionLine(t, clock, c)))
	}
	fmt.Fprintln(t)
	for _, line := range drifts(list) {
		fmt.Fprintln(t, line)
	}
	return nil
}

// commissionLine is a commissioning in one line.
func commissionLine(t terminal.Terminal, clock floor.Clock, c care.Commissioning) string {
	how := "good"
	if missing := c.Progress().Missing(c.Caps()); len(missing) > 0 {
		how = "not passed: " + strings.Join(command.Each(missing, wording.Commission{Words: t.Words}.Step), ", ")
	}
	return fmt.Sprintf("commissioning %d of %s, %s, firmware %s%s: %s", c.Number, clock.Day(c.Begun), c.Jig.Model, c.Jig.Firmware,
		command.By(c.By), how)
}

// series is one value over all calibrations of its kind.
type series struct {
	name, unit    string
	values, limit []float64
}

// drifts gives a line for each range and each channel.
func drifts(list []care.StoredCalibration) []string {
	var all []series
	add := func(name, unit string, value, limit float64) {
		i := slices.IndexFunc(all, func(s series) bool { return s.name == name })
		if i < 0 {
			i = len(all)
			all = append(all, series{name: name, unit: unit})
		}
		all[i].values, all[i].limit = append(all[i].values, value), append(all[i].limit, limit)
	}
	for _, c := range list {
		for _, r := range calibrate.Ranges(c.Calibration) {
			add("range "+r.Reference.String(), "%", 100*r.Deviation, 100*r.Limit)
		}
	}
	for _, c := range list {
		if c.Kind == sequence.KindZero {
			for _, r := range c.Readings {
				add(fmt.Sprintf("channel %d", r.Channel), "ohm", float64(r.Measured.Value), float64(r.Limit))
			}
		}
	}
	return command.Each(all, series.line)
}

func (s series) line() string {
	last := len(s.values) - 1
	var marks strings.Builder
	for i, v := range s.values[max(0, last-39):] {
		marks.WriteRune(mark(v, s.limit[max(0, last-39)+i]))
	}
	return fmt.Sprintf("%-16s %-10s %+.3f %s, was %+.3f at first, limit ±%.3g", s.name, marks.String(),
		s.values[last], s.unit, s.values[0], s.limit[last])
}

// mark stands for a value between its limits, lower and upper.
func mark(v, limit float64) rune {
	bars := []rune("▁▂▃▄▅▆▇█")
	if math.Abs(v) > limit {
		return '!'
	}
	place := int((v/limit + 1) / 2 * float64(len(bars)))
	return bars[min(place, len(bars)-1)]
}
