// Package records is padjig records: looking after the records themselves.
package records

import (
	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
)

// Command is padjig records with all that is below it.
func Command() *cobra.Command {
	return command.Noun("records", "Look after the records", `  padjig records check
  padjig records backup --to /media/backup
  padjig records shipped --file pallet-7.txt --operator Ines`,
		newCheck(), newBackup(), newRestore(), newSimulate(), newShipped(), newHandOff(), newPublish())
}
