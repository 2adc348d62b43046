package plant

// padjig plant join: a station gets its number at the plant.

import (
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results/plant/forward"
)

func newJoin() *cobra.Command {
	var plant, member string
	cmd := &cobra.Command{
		Use:   "join --plant ADDRESS --member NAME",
		Short: "Give a station its number at the plant",
		Long: `Gives a station of a name its number at the plant, under which its records come
there. Done again it changes nothing. Whose records come under a name is settled by
the first of them: two stations of one name, and one under two, are refused.`,
		Example: `  padjig plant join --plant postgres://owner@db/plant --member line-2
  padjig plant join --plant "host=db dbname=plant user=owner" --member line-3`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := forward.CheckName(member); err != nil {
				return command.WrongUse(err)
			}
			db, err := command.OpenPlant(plant)
			if err != nil {
				return err
			}
			defer db.Close()
			number, err := forward.Join(cmd.Context(), db, member)
			if err != nil {
				return command.PlantTrouble(err)
			}
			fmt.Fprintf(cmd.OutOrStdout(), "station %s has number %d at the plant\n", member, number)
			return nil
		},
	}
	flags(cmd, &plant, &member)
	return cmd
}

// flags are those that say which station at which plant.
func flags(cmd *cobra.Command, plant, member *string) {
	command.PlantFlag(cmd, plant)
	command.MemberFlag(cmd, member)
	command.Group(cmd.Flags(), command.OfPlant, "plant", "member")
	command.Must(cmd.MarkFlagRequired("plant"))
	command.Must(cmd.MarkFlagRequired("member"))
}
