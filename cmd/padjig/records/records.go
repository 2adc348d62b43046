package records

import (
	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
)

func Command() *cobra.Command {
	return command.Group("records", "Look after the records", `  padjig records check`, newCheck(), newSimulate())
}
