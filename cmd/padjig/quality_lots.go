package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"padjig/results"
)

type lotsOptions struct {
	store, jig, product, by string
	lots                    map[string]string
	simulated               bool
}

func newQualityLots() *cobra.Command {
	var o lotsOptions
	cmd := &cobra.Command{
		Use:   "lots",
		Short: "Which lots of material a jig uses, and record a changeover",
		Long: `Shows the lots of material that a jig uses for a product. With one lot or more it
records a changeover: scan the label of the new lot where its flag stands. Every
run of the jig from then on has these lots; lots of other materials stay.`,
		Example: `  padjig quality lots --jig J-0042 --product GCC-20
  padjig quality lots --jig J-0042 --product GCC-20 --membrane M-2617 --by "Ann Lee"`,
		Args: exactly(0, "none, only flags"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			o.lots = map[string]string{}
			for _, material := range results.Materials {
				if cmd.Flags().Changed(material) {
					o.lots[material] = strings.TrimSpace(cmd.Flag(material).Value.String())
				}
			}
			return o.run(cmd)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.jig, "jig", "", "the jig, by serial `NUMBER`")
	f.StringVar(&o.product, "product", "", "the product, by its `CODE`")
	for _, material := range results.Materials {
		f.String(material, "", "the new `LOT` of "+material)
	}
	f.StringVar(&o.by, "by", "", "`NAME` of whoever changed it")
	f.BoolVar(&o.simulated, "simulated", false, "of a simulated jig")
	storeFlag(cmd, &o.store)
	needs(cmd, "jig", "product")
	return cmd
}

func (o *lotsOptions) run(cmd *cobra.Command) error {
	if len(o.lots) > 0 {
		if err := o.change(cmd); err != nil {
			return err
		}
	}
	store, err := readStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	c, err := store.LotsOf(cmd.Context(), o.jig, o.product, o.simulated)
	if err != nil {
		return err
	}
	t := terminalOf(cmd.OutOrStdout())
	if c == nil {
		fmt.Fprintf(t, "no lot was ever scanned for %s on jig %s%s\n", o.product, o.jig, onSimulated(o.simulated))
		return nil
	}
	fmt.Fprintf(t, "%s on jig %s%s, from run %d on:\n", o.product, o.jig, onSimulated(o.simulated), c.AfterRun+1)
	for _, material := range results.Materials {
		if lot := c.Lots[material]; lot != "" {
			fmt.Fprintf(t, "  %-11s  %s\n", material, lot)
		}
	}
	return nil
}

func (o *lotsOptions) change(cmd *cobra.Command) error {
	var wrong []error
	if o.by == "" {
		wrong = append(wrong, errors.New("--by is missing: name who changed the lot"))
	}
	for material, lot := range o.lots {
		if lot == "" {
			wrong = append(wrong, fmt.Errorf("--%s is empty: scan the label again", material))
		}
	}
	if err := errors.Join(wrong...); err != nil {
		return wrongUse(err)
	}
	store, err := openStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	err = store.SaveLots(cmd.Context(), results.LotChange{Jig: o.jig, Product: o.product, Simulated: o.simulated, Lots: o.lots, By: o.by})
	if err != nil {
		return fail(statusNotRecorded, err, "padjig records check"+storeArgument(store))
	}
	return nil
}
