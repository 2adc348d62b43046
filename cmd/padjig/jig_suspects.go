package main

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"padjig/results"
)

func newJigSuspects() *cobra.Command {
	var store string
	var asJSON, simulated bool
	cmd := &cobra.Command{
		Use:   "suspects JIG",
		Short: "List the units tested on a jig since it was last known to be good",
		Long: `Lists every unit tested on a jig after its last good verification, the one that
came nearest to a limit first: its margin to that limit in percent of the limit
and in expanded uncertainties U (k = 2). When a jig was found out of tolerance,
these are the units to look at again.`,
		Example: `  padjig jig suspects J-0042
  padjig jig suspects J-0042 --json`,
		Args: exactly(1, "the serial number of a jig"),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := readStore(cmd.Context(), store)
			if err != nil {
				return err
			}
			defer s.Close()
			found, err := s.Suspects(cmd.Context(), args[0], simulated)
			if err != nil {
				return fail(statusNotRecorded, err, "padjig records check"+storeArgument(s))
			}
			if asJSON {
				return printObject(cmd.OutOrStdout(), suspectsObjectOf(found))
			}
			printSuspects(terminalOf(cmd.OutOrStdout()), found)
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print one JSON object")
	cmd.Flags().BoolVar(&simulated, "simulated", false, "of a simulated jig")
	storeFlag(cmd, &store)
	return cmd
}

func printSuspects(t terminal, s results.Suspects) {
	since := "ever; it was never found good"
	if s.Since != nil {
		since = "after its last good verification, " + s.Since.Performed.Local().Format(clockForm)
	}
	fmt.Fprintf(t, "%s tested on jig %s %s\n", count(len(s.Units), "unit"), s.Jig, since)
	for _, u := range s.Units {
		nearest := "no key was read"
		if u.Key != "" {
			nearest = fmt.Sprintf("key %s: %v, limit %v, margin %.1f %% of the limit, %.1f U", u.Key, u.Closed, u.Limit,
				100*u.OfLimit(), u.OfU())
		}
		fmt.Fprintf(t, "  %-16s %-10s %s\n", u.Serial, u.Outcome, nearest)
	}
}

type suspectsObject struct {
	Jig   string          `json:"jig"`
	Since string          `json:"since"` // of the last good verification, RFC 3339, UTC; empty for none
	Units []suspectObject `json:"units"`
}

type suspectObject struct {
	Serial  string  `json:"serial"`
	Product string  `json:"product"`
	Runs    int     `json:"runs"`
	Outcome string  `json:"outcome"` // of the last run
	Key     string  `json:"key"`
	Closed  float64 `json:"closed_ohm"`
	Limit   float64 `json:"limit_ohm"`
	OfLimit float64 `json:"margin_of_limit"`
	OfU     float64 `json:"margin_of_u"` // in expanded uncertainties, k = 2
}

func suspectsObjectOf(s results.Suspects) suspectsObject {
	o := suspectsObject{Jig: s.Jig, Units: []suspectObject{}}
	if s.Since != nil {
		o.Since = s.Since.Performed.Format(time.RFC3339Nano)
	}
	for _, u := range s.Units {
		so := suspectObject{Serial: u.Serial, Product: u.Product, Runs: u.Runs, Outcome: string(u.Outcome), Key: u.Key}
		if u.Key != "" {
			so.Closed, so.Limit, so.OfLimit, so.OfU = float64(u.Closed), float64(u.Limit), u.OfLimit(), u.OfU()
		}
		o.Units = append(o.Units, so)
	}
	return o
}
