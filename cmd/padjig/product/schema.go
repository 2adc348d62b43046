package product

import (
	"github.com/spf13/cobra"

	"padjig/sequence/product/editor"
)

func newSchema() *cobra.Command {
	return &cobra.Command{
		Use:   "schema",
		Short: "Print what editors need to help with a product file",
		Long: `Print a JSON Schema of product files (draft 7). An editor that knows it completes
the names of fields, says what each is for, and marks what cannot be while you
type. It sees what stands at one place; padjig product check sees all of it.

Many editors go by a remark as the first line of a file:
  # yaml-language-server: $schema=product.schema.json`,
		Example: `  padjig product schema > product.schema.json`,
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			_, err := cmd.OutOrStdout().Write(editor.Schema)
			return err
		},
	}
}
