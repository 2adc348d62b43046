package main

import (
	"github.com/spf13/cobra"

	"padjig/sequence"
)

// Flags that several commands have.

// needs marks flags without which a command makes no sense, and lets the shell
// complete product files.
func needs(cmd *cobra.Command, names ...string) {
	for _, name := range names {
		must(cmd.MarkFlagRequired(name))
	}
	must(cmd.MarkFlagFilename("product", "yaml", "yml"))
}

// must ends the program for a mistake of its own: a flag that was never defined.
func must(err error) {
	if err != nil {
		panic(err)
	}
}

// storeFlag adds --store. Its default depends on the environment and is found
// when it is needed, so that help is the same everywhere.
func storeFlag(cmd *cobra.Command, path *string) {
	cmd.Flags().StringVar(path, "store", "",
		"`FILE` of the records (default $XDG_DATA_HOME/padjig/records.sqlite,\nor ~/.local/share/padjig/records.sqlite)")
}

func pressing(how string) (sequence.Actuation, error) {
	switch a := sequence.Actuation(how); a {
	case "", sequence.Mechanical, sequence.Electrical, sequence.Hand:
		return a, nil
	}
	return "", wrongUsef("--actuation %q: write mechanical, electrical or hand", how)
}

const oneSerial = "the serial number of a unit"
