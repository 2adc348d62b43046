package main

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/object"
	"padjig/results"
	"padjig/results/report/returned"
	"padjig/results/returns"
)

func newReturnsShow() *cobra.Command {
	var flags caseFlags
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "show SERIAL",
		Short: "Show a case: the unit's life, as shipped and now, and what comes next",
		Long: `Shows the newest case of a unit: its life, what each key read when it left beside
what it reads now, with the uncertainty of the change, what each stage found, the
likely causes with what speaks for and against them, other units with something
at the same place, what speaks against the jig that passed it, and what comes
next.

With --json standard output holds one object: case, serial, product, simulated,
complaint, conditions, disposition, found_by, stages[] (stage, run, outcome, worst),
keys[] (key, shipped_ohm, first_press_ohm, test_ohm, change_ohm, change_u_ohm with
k = 2, real, thin, bounce as shipped and now in shipped_make_ms, make_ms,
shipped_break_ms, break_ms), findings[], causes[], against[], offers[], alike[], bound
(presses, rule_of_three, exact), next.`,
		Example: `  padjig returns show GCC-000001-3
  padjig returns show GCC-000001-3 --json`,
		Args: exactly(1, oneSerial),
		RunE: func(cmd *cobra.Command, args []string) error {
			return flags.with(cmd, readStore, args[0], func(s *results.Store, c returns.Case) error {
				return showCase(cmd, s, c, asJSON)
			})
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print one JSON object")
	flags.add(cmd)
	return cmd
}

// lifeOf gathers a case as it is now.
func lifeOf(cmd *cobra.Command, s *results.Store, number int64) (*returned.Life, error) {
	c, err := s.Returns.Case(cmd.Context(), number)
	if err != nil {
		return nil, fail(statusNotRecorded, err, "padjig records check"+storeArgument(s))
	}
	life, err := returned.Of(cmd.Context(), s, c)
	if err != nil {
		return nil, fail(statusNotRecorded, err, "padjig records check"+storeArgument(s))
	}
	life.At = storeArgument(s)
	return life, nil
}

func showCase(cmd *cobra.Command, s *results.Store, c returns.Case, asJSON bool) error {
	life, err := lifeOf(cmd, s, c.Number)
	if err != nil {
		return err
	}
	if asJSON {
		return object.Print(cmd.OutOrStdout(), object.LifeOf(life))
	}
	t := terminalOf(cmd.OutOrStdout())
	return life.Text(t, t.wide)
}

func newReturnsDispose() *cobra.Command {
	var flags caseFlags
	var d returns.Disposition
	cmd := &cobra.Command{
		Use:   "dispose SERIAL WORD --operator NAME",
		Short: "Close a case, or open it again",
		Long: `Closes the newest case of a unit with one of these words:
  "confirmed"                    a stage found the fault
  "not reproduced"               no stage found one, an exercise among them
  "customer damage"              broken after it left; the intake says what is seen
  "jig false accept suspected"   it may have left with the fault; needs --reason
What the stages do not support is refused. A disposition is corrected by another
one; "reopened" opens the case again.`,
		Example: `  padjig returns dispose GCC-000001-3 confirmed --operator Jon
  padjig returns dispose GCC-000001-3 "not reproduced" --operator Jon --reason "one key, damp hall"`,
		Args: exactly(2, oneSerial+" and a disposition"),
		RunE: func(cmd *cobra.Command, args []string) error {
			d.Code = args[1]
			return flags.with(cmd, openStore, args[0], func(s *results.Store, c returns.Case) error {
				if err := s.Returns.Dispose(cmd.Context(), c, d); err != nil {
					return ofCase(s, c.Serial, err)
				}
				fmt.Fprintf(cmd.OutOrStdout(), "case %d of unit %s: %s\n", c.Number, c.Serial, d.Code)
				return nil
			})
		},
		ValidArgsFunction: func(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
			if len(args) == 1 {
				return returns.Dispositions, cobra.ShellCompDirectiveNoFileComp
			}
			return nil, cobra.ShellCompDirectiveNoFileComp
		},
	}
	cmd.Flags().StringVar(&d.Reason, "reason", "", "why, in `WORDS`")
	cmd.Flags().StringVar(&d.By, "operator", "", "`NAME` of whoever decides")
	flags.add(cmd)
	must(cmd.MarkFlagRequired("operator"))
	return cmd
}

func newReturnsReport() *cobra.Command {
	var flags caseFlags
	var to, as string
	cmd := &cobra.Command{
		Use:   "report SERIAL",
		Short: "Write the one-page report of a case",
		Long: `Writes the report of the newest case of a unit: one page to print, or to save as
PDF from a browser's print dialogue, with the photos in it; or plain text. It is
made from the records alone.`,
		Example: `  padjig returns report GCC-000001-3 --to GCC-000001-3.html
  padjig returns report GCC-000001-3 --as text`,
		Args: exactly(1, oneSerial),
		RunE: func(cmd *cobra.Command, args []string) error {
			return flags.with(cmd, readStore, args[0], func(s *results.Store, c returns.Case) error {
				life, err := lifeOf(cmd, s, c.Number)
				if err != nil {
					return err
				}
				return writeReport(cmd, s, life, to, as)
			})
		},
	}
	cmd.Flags().StringVar(&to, "to", "", "`FILE` to write (default standard output)")
	cmd.Flags().StringVar(&as, "as", "", "`FORM`: html or text (default by the name of the file, else html)")
	flags.add(cmd)
	return cmd
}

func writeReport(cmd *cobra.Command, s *results.Store, life *returned.Life, to, as string) error {
	if as == "" && (strings.HasSuffix(to, ".txt") || strings.HasSuffix(to, ".text")) {
		as = "text"
	}
	var page bytes.Buffer
	var err error
	switch as {
	case "", "html":
		err = life.HTML(&page, s.Returns.PhotoFile, time.Now())
	case "text":
		err = life.Text(&page, plainWidth)
	default:
		return wrongUsef("--as %q: write html or text", as)
	}
	if err != nil {
		return fail(statusNotRecorded, fmt.Errorf("make the report: %w", err), "padjig records check"+storeArgument(s))
	}
	if to == "" {
		_, err = cmd.OutOrStdout().Write(page.Bytes())
		return err
	}
	in := returnsSheet
	if as == "text" {
		in = returnsText
	}
	err = writeOutput(to, in, s.Path(), func(w io.Writer) error { _, err := w.Write(page.Bytes()); return err })
	if err != nil {
		return err
	}
	fmt.Fprintf(cmd.OutOrStdout(), "report of case %d written to %s\n", life.Case.Number, to)
	return nil
}

func newReturnsList() *cobra.Command {
	var store string
	var asJSON, open bool
	var last int
	cmd := &cobra.Command{
		Use:   "list",
		Short: "List the cases, newest first",
		Example: `  padjig returns list
  padjig returns list --open`,
		Args: exactly(0, "none, only flags"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := readStore(cmd.Context(), store)
			if err != nil {
				return err
			}
			defer s.Close()
			cases, err := s.Returns.Cases(cmd.Context(), last)
			if err != nil {
				return fail(statusNotRecorded, err, "padjig records check"+storeArgument(s))
			}
			return printCases(cmd, cases, open, asJSON)
		},
	}
	cmd.Flags().BoolVar(&open, "open", false, "only those without a disposition")
	cmd.Flags().IntVar(&last, "last", 50, "no more than `N`")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print one JSON object")
	storeFlag(cmd, &store)
	return cmd
}

func printCases(cmd *cobra.Command, cases []returns.Case, open, asJSON bool) error {
	var shown []returns.Case
	for _, c := range cases {
		if !open || !c.Closed() {
			shown = append(shown, c)
		}
	}
	if asJSON {
		return object.Print(cmd.OutOrStdout(), object.Cases{Cases: each(shown, object.ReturnsCaseOf)})
	}
	t := terminalOf(cmd.OutOrStdout())
	for _, c := range shown {
		fmt.Fprintf(t, "%4d  %s  %-16s %-10s %-22s %s\n", c.Number, c.Intake().Received.Local().Format(time.DateOnly), c.Serial, c.Product,
			c.Intake().Complaint, howFar(c))
	}
	if len(shown) == 0 {
		fmt.Fprintln(t, "no cases")
	}
	return nil
}

// howFar says how far a case is, in a few words.
func howFar(c returns.Case) string {
	switch found, any := c.FoundBy(); {
	case c.Closed():
		return c.Disposition().Code
	case any:
		return "open, " + found.Worst
	case len(c.Stages) > 0:
		return "open, after the " + string(c.Stages[len(c.Stages)-1].Purpose)
	}
	return "open, taken in"
}
