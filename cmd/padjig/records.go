package main

import "github.com/spf13/cobra"

func newRecords() *cobra.Command {
	return group("records", "Look after the records", `  padjig records check`, newRecordsCheck(), newRecordsSimulate())
}
