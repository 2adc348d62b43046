// Package records is padjig records: looking after the records themselves.
package records

import (
	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
)

// Command is padjig records with all that is below it.
func Command() *cobra.Command {
	return command.Group("records", "Look after the records", `  padjig records check
  padjig records shipped --file pallet-7.txt --operator Ines`, newCheck(), newSimulate(), newShipped())
}
