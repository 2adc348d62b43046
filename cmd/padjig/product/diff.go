package product

// padjig product diff: what a product file changes, in the words of the pages.

import (
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/object"
	"padjig/sequence/product"
	"padjig/sequence/revise"
)

func newDiff() *cobra.Command {
	var store string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "diff FILE [AGAINST]",
		Short: "Say what a product file changes, grouped by what that does",
		Long: `Says in what a product file differs from what is in force, or was tested last, by
the records; with a second file from that one. Each difference is told once, of
however many keys, under what it does: lets more through, risk, lets less through,
neither. What it would have done to units of before: padjig product trial.`,
		Example: `  padjig product diff my-pad.yaml
  padjig product diff new.yaml old.yaml`,
		Args: func(cmd *cobra.Command, files []string) error {
			if len(files) > 2 {
				return command.WrongUsef("%d files: one is compared with the records, two with one another", len(files))
			}
			return command.AtLeast(1, "a product file")(cmd, files)
		},
		RunE: func(cmd *cobra.Command, files []string) error { return diff(cmd, store, files, asJSON) },
	}
	command.JSONFlag(cmd, &asJSON)
	command.StoreFlag(cmd, &store)
	return cmd
}

func diff(cmd *cobra.Command, store string, files []string, asJSON bool) error {
	of, err := command.LoadProduct(cmd, files[0])
	if err != nil {
		return err
	}
	t := terminal.Of(cmd.OutOrStdout())
	if len(files) == 2 {
		before, err := command.LoadProduct(cmd, files[1])
		if err != nil {
			return err
		}
		if asJSON {
			return object.Print(t.Writer, object.DifferenceOf(of, before, t.Words.Change))
		}
		fmt.Fprintf(t, "against %s, %s:\n", files[1], command.Named(before.Code, before.Revision))
		tell(t, before, of)
		return nil
	}
	s, err := command.ReadStore(cmd.Context(), store)
	if err != nil {
		return err
	}
	defer s.Close()
	before, err := s.Releases.Against(cmd.Context(), of.Code)
	switch {
	case err != nil:
		return command.RecordsFailed(s, err)
	case asJSON:
		return object.Print(t.Writer, object.DifferenceOf(of, before, t.Words.Change))
	case before == nil:
		fmt.Fprintf(t, "nothing of %s is in force or was tested: there is nothing to compare it with\n", of.Code)
		return nil
	}
	fmt.Fprintf(t, "against what is in force, %s:\n", command.Named(before.Code, before.Revision))
	tell(t, before, of)
	return nil
}

// tell says what changes from one product to another.
func tell(t terminal.Terminal, before, of *product.Product) {
	changes := revise.Between(before, of)
	if len(changes) == 0 {
		fmt.Fprintln(t, "nothing is tested or drawn otherwise")
	}
	for _, g := range revise.Grouped(changes) {
		fmt.Fprintf(t, "\n%s\n", t.Words.Does(g.Class))
		for _, c := range g.Changes {
			fmt.Fprintf(t, "  %s\n", t.Wrap(4, t.Words.Change(c)))
		}
	}
}
