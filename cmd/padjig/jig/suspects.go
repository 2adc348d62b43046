package jig

// padjig jig suspects: a jig found out of tolerance may have passed what it should not.

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/object"
	"padjig/results/care"
	"padjig/results/floor"
)

func newSuspects() *cobra.Command {
	var store string
	var asJSON, simulated bool
	var window int
	cmd := &cobra.Command{
		Use:   "suspects JIG",
		Short: "List the units tested while a jig was not known to be good",
		Long: `Lists every unit tested on a jig after its last good verification, the one that
came nearest to a limit first: its margin to that limit in percent of the limit
and in expanded uncertainties U (k = 2). What a failed verification found is
taken off the readings where that makes the margin smaller. When a jig was found
out of tolerance, these are the units to look at again.

Behind them stands every earlier window: from a good verification, over those
that failed, to the next good one. A unit that passed again since, on a jig that
was good then, is marked as cleared.

The lots of material of the units are named, as they were scanned at changeover,
and what was recorded as shipped (padjig records shipped) stands before what was not.`,
		Example: `  padjig jig suspects J-0042
  padjig jig suspects J-0042 --window 1
  padjig jig suspects J-0042 --json`,
		Args: command.Exactly(1, oneJig),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := command.ReadStore(cmd.Context(), store)
			if err != nil {
				return err
			}
			defer s.Close()
			found, err := s.Care.Suspects(cmd.Context(), args[0], simulated)
			if err != nil {
				return command.RecordsFailed(s, err)
			}
			if cmd.Flags().Changed("window") {
				if found, err = theWindow(found, window); err != nil {
					return err
				}
			}
			if asJSON {
				return object.Print(cmd.OutOrStdout(), object.SuspectsOf(args[0], found))
			}
			clock, err := command.PlantClock(cmd.Context(), s)
			if err != nil {
				return err
			}
			told{terminal.Of(cmd.OutOrStdout()), clock}.suspects(args[0], found)
			return nil
		},
	}
	cmd.Flags().IntVar(&window, "window", 0, "only window `N`; 1 is the oldest")
	command.JSONFlag(cmd, &asJSON)
	cmd.Flags().BoolVar(&simulated, "simulated", false, "of a simulated jig")
	command.StoreFlag(cmd, &store)
	return cmd
}

func theWindow(all []care.Window, number int) ([]care.Window, error) {
	i := slices.IndexFunc(all, func(w care.Window) bool { return w.Number == number })
	if i < 0 {
		return nil, command.Fail(command.Wrong, fmt.Errorf("--window %d: there are windows 1 to %d", number, len(all)), "")
	}
	return all[i : i+1], nil
}

// told are suspects at a terminal, by the plant's clock.
type told struct {
	terminal.Terminal
	clock floor.Clock
}

// suspects prints the first window with its units and a line for each of the others.
func (t told) suspects(jig string, all []care.Window) {
	t.window(jig, all[0])
	if len(all) > 1 {
		fmt.Fprintln(t, "\nearlier windows, each with its units by --window N:")
	}
	for _, w := range all[1:] {
		fmt.Fprintf(t, "  %2d. %s, %d of them cleared, %d shipped: from %s, over %s, to %s\n", w.Number, command.Count(len(w.Units), "unit"), w.Cleared(), w.Shipped(),
			t.since(w), command.Count(len(w.Failed), "failed verification"), t.clock.Exact(w.Until.Performed))
	}
}

func (t told) since(w care.Window) string {
	if w.Since == nil {
		return "the beginning"
	}
	return t.clock.Exact(w.Since.Performed)
}

func (t told) window(jig string, w care.Window) {
	since := "ever; it was never found good"
	switch {
	case w.Since != nil && w.Open():
		since = "after its last good verification, " + t.since(w)
	case w.Since != nil:
		since = "after its good verification of " + t.since(w)
	case !w.Open():
		since = "before its first good verification"
	}
	fmt.Fprintf(t, "%s tested on jig %s %s\n", command.Count(len(w.Units), "unit"), jig, since)
	for _, f := range w.Failed {
		fmt.Fprintf(t, "  failed verification of %s: %s\n", t.clock.Exact(f.Performed), f.Reason)
	}
	if !w.Open() {
		fmt.Fprintf(t, "  good again on %s\n", t.clock.Exact(w.Until.Performed))
	}
	for _, l := range w.Lots() {
		fmt.Fprintf(t, "  %s lot %s: %s\n", l.Material, l.Lot, command.Count(l.Units, "unit"))
	}
	here := slices.DeleteFunc(slices.Clone(w.Units), care.Suspect.Left)
	if w.Shipped() > 0 {
		fmt.Fprintf(t, "shipped, %s:\n", command.Count(w.Shipped(), "unit"))
		t.units(slices.DeleteFunc(slices.Clone(w.Units), func(u care.Suspect) bool { return !u.Left() }))
		fmt.Fprintf(t, "not recorded as shipped, %s:\n", command.Count(len(here), "unit"))
	}
	t.units(here)
}

func (t told) units(units []care.Suspect) {
	for _, u := range units {
		fmt.Fprintf(t, "  %-16s %-10s %s\n", u.Serial, u.Outcome, t.words(u))
	}
}

func (t told) words(u care.Suspect) string {
	words := []string{"no key was read"}
	if u.Key != "" {
		words = []string{fmt.Sprintf("key %s: %v", u.Key, u.Closed), fmt.Sprintf("limit %v", u.Limit),
			fmt.Sprintf("margin %.1f %% of the limit", 100*u.OfLimit()), fmt.Sprintf("%.1f U", u.OfU())}
	}
	if u.Key != "" && u.Corrected != u.Margin {
		words = append(words, fmt.Sprintf("%.1f %% as it was read", 100*float64(u.Margin/u.Limit)))
	}
	if c := u.Cleared; c != nil {
		words = append(words, fmt.Sprintf("cleared: passed on jig %s, %s", c.Jig, t.clock.Exact(c.At)))
	}
	if s := u.Shipment; s != nil {
		said := s.Where() + " " + t.clock.Exact(s.At)
		if s.Consignee != "" {
			said += " to " + s.Consignee
		}
		words = append(words, said)
	}
	if lots := u.Lots.String(); lots != "" {
		words = append(words, "lots "+lots)
	}
	return strings.Join(words, ", ")
}
