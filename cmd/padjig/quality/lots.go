package quality

// padjig quality lots: which material a fault came with, and who changed it when.

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/floor"
	"padjig/results/report"
)

type lotsOptions struct {
	selection
	by, material, key string
	scanned           map[string]string
}

func newLots() *cobra.Command {
	var o lotsOptions
	cmd := &cobra.Command{
		Use:   "lots",
		Short: "What came of each lot of a material, which a jig uses, and record a changeover",
		Long: `Shows for each lot of --material its yield and how a key reads in it, in the order
in which the lots came, and the changeovers.

With one --jig and --product it shows the lots of material that the jig uses for the
product. With one lot or more it records a changeover: scan the label of the new lot
where its flag stands. Every run of the jig from then on has these lots; lots of
other materials stay.`,
		Example: `  padjig quality lots --revision D --material dome --key 7
  padjig quality lots --jig J-0042 --product GCC-20
  padjig quality lots --jig J-0042 --product GCC-20 --membrane M-2617 --operator "Ann Lee"`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			o.scanned = map[string]string{}
			for _, material := range floor.Materials {
				if cmd.Flags().Changed(material) {
					o.scanned[material] = strings.TrimSpace(cmd.Flag(material).Value.String())
				}
			}
			return o.run(cmd)
		},
	}
	o.flags(cmd)
	f := cmd.Flags()
	for _, material := range floor.Materials {
		f.String(material, "", "the new `LOT` of "+material)
	}
	command.OperatorFlag(cmd, &o.by, "`NAME` of whoever changed it")
	f.StringVar(&o.material, "material", "", "`MATERIAL` whose lots are compared: "+strings.Join(floor.Materials, ", "))
	f.StringVar(&o.key, "key", "", "show how the key with this `LABEL` reads in each lot")
	return cmd
}

func (o *lotsOptions) run(cmd *cobra.Command) error {
	inUse := len(o.jigs) == 1 && o.product != "" && o.material == "" && o.key == ""
	switch {
	case len(o.scanned) == 0 && o.by != "":
		return command.WrongUsef("--operator names who changes a lot, and none is changed here; runs are chosen with --tested-by")
	case len(o.scanned) > 0 && !inUse:
		return command.WrongUsef("a changeover is that of one --jig and --product")
	case len(o.scanned) > 0:
		if err := o.change(cmd); err != nil {
			return err
		}
	}
	if inUse {
		return o.inUse(cmd)
	}
	var wrong error
	if o.material != "" && !slices.Contains(floor.Materials, o.material) {
		wrong = fmt.Errorf("--material %q: write %s", o.material, strings.Join(floor.Materials, ", "))
	}
	return o.answer(cmd, wrong, func(s *results.Store, a answers.Selection) (report.Document, error) {
		l, err := answers.AskLots(cmd.Context(), s, answers.LotsAsked{Selection: a, Material: o.material, Key: o.key})
		return report.Lots(l), err
	})
}

// inUse tells the lots that a jig uses for a product.
func (o *lotsOptions) inUse(cmd *cobra.Command) error {
	store, err := command.ReadStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	c, err := store.Floor.LotsOf(cmd.Context(), o.jigs[0], o.product, o.simulated)
	if err != nil {
		return err
	}
	t := terminal.Of(cmd.OutOrStdout())
	if c == nil {
		fmt.Fprintf(t, "no lot was ever scanned for %s on jig %s%s\n", o.product, o.jigs[0], command.OnSimulated(o.simulated))
		return nil
	}
	fmt.Fprintf(t, "%s on jig %s%s, from run %d on:\n", o.product, o.jigs[0], command.OnSimulated(o.simulated), c.AfterRun+1)
	for _, material := range floor.Materials {
		if lot := c.Lots[material]; lot != "" {
			fmt.Fprintf(t, "  %-11s  %s\n", material, lot)
		}
	}
	return nil
}

func (o *lotsOptions) change(cmd *cobra.Command) error {
	var wrong []error
	if !command.SaysWho(cmd, o.by) {
		wrong = append(wrong, errors.New("--operator is missing: name who changed the lot"))
	}
	for material, lot := range o.scanned {
		if lot == "" {
			wrong = append(wrong, fmt.Errorf("--%s is empty: scan the label again", material))
		}
	}
	if err := errors.Join(wrong...); err != nil {
		return command.WrongUse(err)
	}
	store, err := command.OpenStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	if err := command.As(cmd, store, &o.by, account.Roles); err != nil {
		return err
	}
	err = store.Floor.SaveLots(cmd.Context(), floor.LotChange{Jig: o.jigs[0], Product: o.product, Simulated: o.simulated,
		Lots: o.scanned, By: o.by})
	if err != nil {
		return command.RecordsFailed(store, err)
	}
	return nil
}
