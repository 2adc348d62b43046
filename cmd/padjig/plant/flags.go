package plant

import (
	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
)

// flags are those that say which station at which plant.
func flags(cmd *cobra.Command, plant, member *string) {
	command.PlantFlag(cmd, plant)
	command.MemberFlag(cmd, member)
	command.Group(cmd.Flags(), command.OfPlant, "plant", "member")
	command.Needs(cmd, "plant", "member")
}
