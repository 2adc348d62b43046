package jig

// padjig jig references: which reference unit is due on a jig, before it stops the line.

import (
	"context"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/object"
	"padjig/results"
	"padjig/results/floor"
	"padjig/sequence/product"
)

// referenceOptions are the flags of padjig jig references.
type referenceOptions struct {
	product, store  string
	simulated, json bool
}

func newReferences() *cobra.Command {
	var o referenceOptions
	cmd := &cobra.Command{
		Use:   "references JIG --product FILE",
		Short: "Show how the product's reference units stand on a jig",
		Long: `Shows, for each reference unit that a product demands, when it was last tested
on the jig, whether it showed what it must, how many units came since, when it
is due, and how often it has been pressed through on any jig. JIG is the jig's
serial number; no jig need be connected.

Exit status: 0 all are good, 3 one is due or was not.`,
		Example: `  padjig jig references J-0042 --product my-pad.yaml
  padjig jig references SIM-0001 --product my-pad.yaml --simulated --json`,
		Args: command.Exactly(1, oneJig),
		RunE: func(cmd *cobra.Command, args []string) error { return o.run(cmd, args[0]) },
	}
	f := cmd.Flags()
	f.StringVar(&o.product, "product", "", "product `FILE`")
	f.BoolVar(&o.simulated, "simulated", false, "look at checks on simulated jigs")
	command.JSONFlag(cmd, &o.json)
	command.StoreFlag(cmd, &o.store)
	command.Needs(cmd, "product")
	return cmd
}

func (o *referenceOptions) run(cmd *cobra.Command, jig string) error {
	p, err := command.LoadProduct(cmd, o.product)
	if err != nil {
		return err
	}
	if p.References == nil {
		return command.Fail(command.Wrong, fmt.Errorf("%s demands no reference units", p.Code),
			"a references section in "+o.product)
	}
	store, err := command.ReadStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	rows, err := o.rows(cmd.Context(), store, p, jig)
	if err != nil {
		return command.RecordsFailed(store, err)
	}
	if o.json {
		err = object.Print(cmd.OutOrStdout(), object.References{Jig: jig, Product: p.Code, Demand: p.References.String(), Units: rows})
	} else {
		clock, wrong := command.PlantClock(cmd.Context(), store)
		if wrong != nil {
			return wrong
		}
		printReferences(cmd.OutOrStdout(), clock, jig, p, rows)
	}
	if err != nil {
		return err
	}
	for _, r := range rows {
		if r.Due != "" {
			return command.Quiet(command.NotMeasured)
		}
	}
	return nil
}

func (o *referenceOptions) rows(ctx context.Context, store *results.Store, p *product.Product, jig string) ([]object.ReferenceUnit, error) {
	now := time.Now()
	var rows []object.ReferenceUnit
	for _, unit := range p.References.All() {
		state, err := store.Care.Reference(ctx, jig, unit, o.simulated)
		if err != nil {
			return nil, err
		}
		row := object.ReferenceUnit{Unit: unit, Must: mustShow(p, unit), Since: state.Since, Runs: state.Runs, Due: state.Overdue(p.References, now)}
		if state.Last != nil {
			row.Last, row.Good = state.Last.Started.Format(time.RFC3339), state.Last.Good
		}
		rows = append(rows, row)
	}
	return rows, nil
}

// mustShow says what a reference unit has to show.
func mustShow(p *product.Product, unit string) string {
	bad, _ := p.Reference(unit)
	switch {
	case bad == nil:
		return "pass"
	case bad.Key != "":
		return fmt.Sprintf("%s at %s", bad.What, bad.Key)
	}
	return fmt.Sprintf("%s at %v", bad.What, bad.Lines)
}

func printReferences(to io.Writer, clock floor.Clock, jig string, p *product.Product, rows []object.ReferenceUnit) {
	fmt.Fprintf(to, "reference units of %s on jig %s, %s\n\n", p.Code, jig, p.References)
	fmt.Fprintf(to, "%-14s %-24s %-20s %6s %6s\n", "unit", "must show", "last", "since", "runs")
	for _, r := range rows {
		last := "never"
		if at, err := time.Parse(time.RFC3339, r.Last); err == nil {
			last = clock.Zoned(at)
		}
		fmt.Fprintf(to, "%-14s %-24s %-20s %6d %6d\n", r.Unit, r.Must, last, r.Since, r.Runs)
		if r.Due != "" {
			fmt.Fprintf(to, "  %s\n", r.Due)
		}
	}
}
