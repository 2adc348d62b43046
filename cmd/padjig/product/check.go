package product

// padjig product check: every mistake in a file at once, where an editor finds it.

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/object"
	"padjig/sequence/product"
)

func newCheck() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "check FILE...",
		Short: "Find every mistake in product files",
		Long: `Reads product files and reports every mistake in every one of them, as
file:line:column and what to write instead.

Exit status: 0 when there is none, else 2.`,
		Example: `  padjig product check my-pad.yaml
  padjig product check my-pad.yaml --json
  padjig product check testdata/products/*.yaml`,
		Args: command.AtLeast(1, "one product file or more"),
		RunE: func(cmd *cobra.Command, files []string) error {
			if asJSON {
				return checkedProducts(cmd, files)
			}
			return checkProducts(cmd, files)
		},
	}
	command.JSONFlag(cmd, &asJSON)
	return cmd
}

// checkedProducts prints what was found in an object, for an editor or a script.
func checkedProducts(cmd *cobra.Command, files []string) error {
	all := object.Checked{Good: true}
	for _, file := range files {
		p, err := product.Load(file)
		list, listed := errors.AsType[product.Mistakes](err)
		switch {
		case err == nil:
			all.Files = append(all.Files, object.GoodFile(file, p))
		case listed:
			all.Files = append(all.Files, object.BadFile(file, list))
		default:
			all.Files = append(all.Files, object.UnreadFile(file, command.Plain(err)))
		}
		all.Good = all.Good && err == nil
	}
	if err := object.Print(cmd.OutOrStdout(), all); err != nil || all.Good {
		return err
	}
	return command.Quiet(command.Wrong)
}

func checkProducts(cmd *cobra.Command, files []string) error {
	bad, mistakes := 0, 0
	var unread []error
	for _, file := range files {
		p, err := product.Load(file)
		list, listed := errors.AsType[product.Mistakes](err)
		switch {
		case err == nil:
			fmt.Fprintf(cmd.OutOrStdout(), "%s: %s, %s, %s, revision %.12s\n", file, command.Named(p.Code, p.Revision),
				command.Count(len(p.Keys), "key"), command.Count(len(p.Lines), "line"), p.Hash())
			continue
		case listed:
			command.PrintMistakes(cmd.ErrOrStderr(), list)
			mistakes += len(list)
		default:
			fmt.Fprintln(cmd.ErrOrStderr(), command.Plain(err))
			unread = append(unread, err)
			continue
		}
		bad++
	}
	switch files := command.Count(len(files), "file"); {
	case bad == 0 && len(unread) == 0:
		return nil
	case bad == 0:
		return command.Fail(command.Wrong, fmt.Errorf("%d of %s could not be read", len(unread), files),
			command.OtherProduct(unread[0]))
	case len(unread) > 0:
		return command.Fail(command.Wrong, fmt.Errorf("%s in %d of %s, and %d could not be read", command.Count(mistakes, "mistake"), bad, files,
			len(unread)),
			"correct what is named above and check again; docs/product-file.md says what a file holds")
	}
	return command.Fail(command.Wrong,
		fmt.Errorf("%s in %d of %s", command.Count(mistakes, "mistake"), bad, command.Count(len(files), "file")),
		"correct the lines named above and check again; docs/product-file.md says what a file holds")
}
