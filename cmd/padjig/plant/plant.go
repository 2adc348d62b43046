// Package plant is padjig plant: what concerns the records of many stations in one database.
package plant

import (
	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
)

// Command is padjig plant with all that is below it.
func Command() *cobra.Command {
	return command.Noun("plant", "The records of many stations in one database",
		`  padjig plant key office.key
  padjig plant publish --key office.key --store office.sqlite --plant postgres://office@db/plant
  padjig plant check --plant postgres://station@db/plant --member line-2`, newJoin(), newForward(), newCheck(),
		newKey(), newPublish(), newReturn(), newNotices())
}
