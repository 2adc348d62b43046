package command

import (
	"github.com/spf13/cobra"

	"padjig/sequence"
)

// Flags that several commands have.

// Needs marks flags without which a command makes no sense, and lets the shell
// complete product files.
func Needs(cmd *cobra.Command, names ...string) {
	for _, name := range names {
		Must(cmd.MarkFlagRequired(name))
	}
	Must(cmd.MarkFlagFilename("product", "yaml", "yml"))
}

// Must ends the program for a mistake of its own: a flag that was never defined.
func Must(err error) {
	if err != nil {
		panic(err)
	}
}

// StoreFlag adds --store. Its default depends on the environment and is found
// when it is needed, so that help is the same everywhere.
func StoreFlag(cmd *cobra.Command, path *string) {
	cmd.Flags().StringVar(path, "store", "",
		"`FILE` of the records (default $XDG_DATA_HOME/padjig/records.sqlite,\nor ~/.local/share/padjig/records.sqlite)")
}

func Pressing(how string) (sequence.Actuation, error) {
	switch a := sequence.Actuation(how); a {
	case "", sequence.Mechanical, sequence.Electrical, sequence.Hand:
		return a, nil
	}
	return "", WrongUsef("--actuation %q: write mechanical, electrical or hand", how)
}

const OneSerial = "the serial number of a unit"
