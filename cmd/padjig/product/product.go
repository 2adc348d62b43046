// Package product is padjig product: files that say what a product is, checked, shown and
// released before anything is made by them.
package product

import (
	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
)

// Command is padjig product with all that is below it.
func Command() *cobra.Command {
	return command.Noun("product", "Check, show and release product files",
		`  padjig product check my-pad.yaml
  padjig product show my-pad.yaml
  padjig product released GCC-20
  padjig product trial my-pad.yaml
  padjig product propose my-pad.yaml --reason "customer agreed" --from-serial GCC-004000-K
  padjig product import board.dts --out my-pad.yaml
  padjig product margins my-pad.yaml
  padjig product schema > product.schema.json`,
		newCheck(), newShow(), newReleased(), newDiff(), newTrial(), newPropose(), newProposed(), newApprove(), newWithdraw(), newImport(), newMargins(), newSchema())
}
