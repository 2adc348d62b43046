package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/results/care"
)

func newJigSuspects() *cobra.Command {
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
was good then, is marked as cleared.`,
		Example: `  padjig jig suspects J-0042
  padjig jig suspects J-0042 --window 1
  padjig jig suspects J-0042 --json`,
		Args: exactly(1, "the serial number of a jig"),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := readStore(cmd.Context(), store)
			if err != nil {
				return err
			}
			defer s.Close()
			found, err := s.Care.Suspects(cmd.Context(), args[0], simulated)
			if err != nil {
				return fail(statusNotRecorded, err, "padjig records check"+storeArgument(s))
			}
			if cmd.Flags().Changed("window") {
				if found, err = theWindow(found, window); err != nil {
					return err
				}
			}
			if asJSON {
				return printObject(cmd.OutOrStdout(), suspectsObjectOf(args[0], found))
			}
			printSuspects(terminalOf(cmd.OutOrStdout()), args[0], found)
			return nil
		},
	}
	cmd.Flags().IntVar(&window, "window", 0, "only window `N`; 1 is the oldest")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print one JSON object")
	cmd.Flags().BoolVar(&simulated, "simulated", false, "of a simulated jig")
	storeFlag(cmd, &store)
	return cmd
}

func theWindow(all []care.Window, number int) ([]care.Window, error) {
	i := slices.IndexFunc(all, func(w care.Window) bool { return w.Number == number })
	if i < 0 {
		return nil, fail(statusWrong, fmt.Errorf("--window %d: there are windows 1 to %d", number, len(all)), "")
	}
	return all[i : i+1], nil
}

// printSuspects prints the first window with its units and a line for each of the others.
func printSuspects(t terminal, jig string, all []care.Window) {
	printWindow(t, jig, all[0])
	if len(all) > 1 {
		fmt.Fprintln(t, "\nearlier windows, each with its units by --window N:")
	}
	for _, w := range all[1:] {
		fmt.Fprintf(t, "  %2d. %s, %d of them cleared: from %s, over %s, to %s\n", w.Number, count(len(w.Units), "unit"), w.Cleared(),
			sinceWords(w), count(len(w.Failed), "failed verification"), w.Until.Performed.Local().Format(clockForm))
	}
}

func sinceWords(w care.Window) string {
	if w.Since == nil {
		return "the beginning"
	}
	return w.Since.Performed.Local().Format(clockForm)
}

func printWindow(t terminal, jig string, w care.Window) {
	since := "ever; it was never found good"
	switch {
	case w.Since != nil && w.Open():
		since = "after its last good verification, " + sinceWords(w)
	case w.Since != nil:
		since = "after its good verification of " + sinceWords(w)
	case !w.Open():
		since = "before its first good verification"
	}
	fmt.Fprintf(t, "%s tested on jig %s %s\n", count(len(w.Units), "unit"), jig, since)
	for _, f := range w.Failed {
		fmt.Fprintf(t, "  failed verification of %s: %s\n", f.Performed.Local().Format(clockForm), f.Reason)
	}
	if !w.Open() {
		fmt.Fprintf(t, "  good again on %s\n", w.Until.Performed.Local().Format(clockForm))
	}
	for _, u := range w.Units {
		fmt.Fprintf(t, "  %-16s %-10s %s\n", u.Serial, u.Outcome, suspectWords(u))
	}
}

func suspectWords(u care.Suspect) string {
	words := []string{"no key was read"}
	if u.Key != "" {
		words = []string{fmt.Sprintf("key %s: %v", u.Key, u.Closed), fmt.Sprintf("limit %v", u.Limit),
			fmt.Sprintf("margin %.1f %% of the limit", 100*u.OfLimit()), fmt.Sprintf("%.1f U", u.OfU())}
	}
	if u.Key != "" && u.Corrected != u.Margin {
		words = append(words, fmt.Sprintf("%.1f %% as it was read", 100*float64(u.Margin/u.Limit)))
	}
	if c := u.Cleared; c != nil {
		words = append(words, fmt.Sprintf("cleared: passed on jig %s, %s", c.Jig, c.At.Local().Format(clockForm)))
	}
	return strings.Join(words, ", ")
}

type suspectsObject struct {
	Jig     string          `json:"jig"`
	Since   string          `json:"since"` // of the first window, as there
	Units   []suspectObject `json:"units"` // of the first window
	Windows []windowObject  `json:"windows"`
}

type windowObject struct {
	Number int             `json:"number"`
	Open   bool            `json:"open"`
	Since  string          `json:"since"` // the last good verification before, RFC 3339, UTC; empty for none
	Failed []failedObject  `json:"failed"`
	Until  string          `json:"until"` // the good verification that ended it; empty while open
	Units  []suspectObject `json:"units"`
}

type failedObject struct {
	Number int64  `json:"number"` // of the calibration
	At     string `json:"at"`
	Reason string `json:"reason"`
}

type suspectObject struct {
	Serial  string           `json:"serial"`
	Product string           `json:"product"`
	Runs    int              `json:"runs"`
	Outcome string           `json:"outcome"` // of the last run
	Key     string           `json:"key"`
	Closed  float64          `json:"closed_ohm"`
	Limit   float64          `json:"limit_ohm"`
	OfLimit float64          `json:"margin_of_limit"` // corrected by what failed verifications found
	OfU     float64          `json:"margin_of_u"`     // likewise, in expanded uncertainties, k = 2
	AsRead  float64          `json:"margin_as_read_of_limit"`
	Cleared *clearanceObject `json:"cleared"`
}

type clearanceObject struct {
	Run string `json:"run"`
	Jig string `json:"jig"`
	At  string `json:"at"`
}

func suspectsObjectOf(jig string, all []care.Window) suspectsObject {
	o := suspectsObject{Jig: jig}
	for _, w := range all {
		o.Windows = append(o.Windows, windowObjectOf(w))
	}
	o.Since, o.Units = o.Windows[0].Since, o.Windows[0].Units
	return o
}

func windowObjectOf(w care.Window) windowObject {
	at := func(c *care.StoredCalibration) string {
		if c == nil {
			return ""
		}
		return c.Performed.Format(time.RFC3339Nano)
	}
	o := windowObject{Number: w.Number, Open: w.Open(), Since: at(w.Since), Until: at(w.Until),
		Failed: []failedObject{}, Units: []suspectObject{}}
	for i := range w.Failed {
		o.Failed = append(o.Failed, failedObject{w.Failed[i].Seq, at(&w.Failed[i]), w.Failed[i].Reason})
	}
	for _, u := range w.Units {
		o.Units = append(o.Units, suspectObjectOf(u))
	}
	return o
}

func suspectObjectOf(u care.Suspect) suspectObject {
	o := suspectObject{Serial: u.Serial, Product: u.Product, Runs: u.Runs, Outcome: string(u.Outcome), Key: u.Key}
	if u.Key != "" {
		o.Closed, o.Limit, o.OfLimit, o.OfU = float64(u.Closed), float64(u.Limit), u.OfLimit(), u.OfU()
		o.AsRead = float64(u.Margin / u.Limit)
	}
	if c := u.Cleared; c != nil {
		o.Cleared = &clearanceObject{c.Run.String(), c.Jig, c.At.Format(time.RFC3339Nano)}
	}
	return o
}
