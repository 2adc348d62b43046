// Package version is padjig version: which program this is.
package version

import (
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/settings"
	"padjig/cmd/padjig/object"
	"padjig/results/store/program"
)

// Command is padjig version.
func Command() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "version",
		Short: "Say which program this is",
		Long: `Says which program this is: its version, the commit it was built of, and what it
speaks and keeps. The records name the program that everything in them is by.

A program that is no release is called devel; "modified" says that its sources
had been changed since the commit.`,
		Example: `  padjig version
  padjig version --json`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			v, err := object.VersionOf(program.This())
			switch {
			case err != nil:
				return command.Fail(command.NotRecorded, err, "install padjig anew")
			case asJSON:
				return object.Print(cmd.OutOrStdout(), v)
			}
			of := ""
			if v.Date != "" {
				of = " of " + v.Date[:len("2006-01-02")]
			}
			fmt.Fprintf(cmd.OutOrStdout(), "padjig %s%s\n%s, %s, SQLite %s, protocol %d, records %d\n",
				program.This().Short(), of, v.Platform, v.Go, v.SQLite, v.Protocol, v.Records)
			return nil
		},
	}
	command.JSONFlag(cmd, &asJSON)
	return settings.Without(cmd)
}
