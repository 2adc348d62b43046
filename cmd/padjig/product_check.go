package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"padjig/sequence/product"
)

func newProductCheck() *cobra.Command {
	return &cobra.Command{
		Use:   "check FILE...",
		Short: "Find every mistake in product files",
		Long: `Reads product files and reports every mistake in every one of them, as
file:line:column and what to write instead.

Exit status: 0 when there is none, else 2.`,
		Example: `  padjig product check my-pad.yaml
  padjig product check testdata/products/*.yaml`,
		Args: atLeast(1, "one product file or more"),
		RunE: checkProducts,
	}
}

func checkProducts(cmd *cobra.Command, files []string) error {
	bad, mistakes := 0, 0
	var unread []error
	for _, file := range files {
		p, err := product.Load(file)
		list, listed := errors.AsType[product.Mistakes](err)
		switch {
		case err == nil:
			fmt.Fprintf(cmd.OutOrStdout(), "%s: %s, %s, %s, revision %.12s\n", file, named(p.Code, p.Revision),
				count(len(p.Keys), "key"), count(len(p.Lines), "line"), p.Hash())
			continue
		case listed:
			fmt.Fprintln(cmd.ErrOrStderr(), list)
			mistakes += len(list)
		default:
			fmt.Fprintln(cmd.ErrOrStderr(), err)
			unread = append(unread, err)
			continue
		}
		bad++
	}
	switch files := count(len(files), "file"); {
	case bad == 0 && len(unread) == 0:
		return nil
	case bad == 0:
		return fail(statusWrong, fmt.Errorf("%d of %s could not be read", len(unread), files), otherProduct(unread[0]))
	case len(unread) > 0:
		return fail(statusWrong, fmt.Errorf("%s in %d of %s, and %d could not be read", count(mistakes, "mistake"), bad, files, len(unread)),
			"correct what is named above and check again; docs/product-file.md says what a file holds")
	}
	return fail(statusWrong,
		fmt.Errorf("%s in %d of %s", count(mistakes, "mistake"), bad, count(len(files), "file")),
		"correct the lines named above and check again; docs/product-file.md says what a file holds")
}
