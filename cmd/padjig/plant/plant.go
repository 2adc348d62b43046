// Package plant is padjig plant: the records of many stations in one database.
package plant

import (
	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
)

// Command is padjig plant with all that is below it.
func Command() *cobra.Command {
	return command.Noun("plant", "The records of many stations in one database",
		`  padjig plant stations --plant postgres://quality@db/plant
  padjig plant check --plant postgres://station@db/plant --member line-2
  padjig plant serve --store office.sqlite --plant postgres://office@db/plant`,
		newPrepare(), newMember(), newForward(), newCheck(), newConflicts(), newServe(), newStations(),
		newCompare(), newDue(), newDrift(), newSuspects(), newLife(), newKey(), newPublish(),
		newReturn(), newNotices(), newRetire(), newReader(), newOffice())
}
