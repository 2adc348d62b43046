package command

import (
	"strings"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/log"
)

// LogFlags adds --log-level and --log-format, to commands that run long.
func LogFlags(cmd *cobra.Command, o *log.Options) {
	f := cmd.Flags()
	f.StringVar(&o.Level, "log-level", "info", "`LEVEL` from which on events are logged:\n"+strings.Join(log.Levels, ", "))
	f.StringVar(&o.Format, "log-format", log.Text, "`FORM` of the log on standard error: "+strings.Join(log.Formats, " or "))
	Group(f, OfLog, "log-level", "log-format")
	Must(cmd.RegisterFlagCompletionFunc("log-level", cobra.FixedCompletions(log.Levels, cobra.ShellCompDirectiveNoFileComp)))
	Must(cmd.RegisterFlagCompletionFunc("log-format", cobra.FixedCompletions(log.Formats, cobra.ShellCompDirectiveNoFileComp)))
}

// OpenLog opens the log on standard error and puts it into the command's context, until end is
// called.
func OpenLog(cmd *cobra.Command, o log.Options) (end func(), err error) {
	logger, end, err := log.Open(cmd.ErrOrStderr(), o)
	if err != nil {
		return nil, WrongUse(err)
	}
	cmd.SetContext(log.Into(cmd.Context(), logger))
	return end, nil
}
