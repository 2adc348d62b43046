package command

import (
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"padjig/fixture/link"
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

// JSONFlag adds --json.
func JSONFlag(cmd *cobra.Command, asJSON *bool) {
	cmd.Flags().BoolVar(asJSON, "json", false, "print one JSON object")
}

// BaudFlag adds --baud.
func BaudFlag(cmd *cobra.Command, baud *int) {
	cmd.Flags().IntVar(baud, "baud", link.DefaultBaud, "speed of the line in bits per second")
}

// ActuationFlag adds --actuation with the ways there are; [Pressing] reads it.
func ActuationFlag(cmd *cobra.Command, how *string, ways string) {
	cmd.Flags().StringVar(how, "actuation", "", "`HOW` keys are pressed: "+ways)
}

// Pressing is how keys are to be pressed, "" for as the jig can.
func Pressing(how string) (sequence.Actuation, error) {
	switch a := sequence.Actuation(how); a {
	case "", sequence.Mechanical, sequence.Electrical, sequence.Hand:
		return a, nil
	}
	return "", WrongUsef("--actuation %q: write mechanical, electrical or hand", how)
}

// ParseShare reads a part of one: "1%" or "0.01".
func ParseShare(text string) (float64, error) {
	number, percent := strings.CutSuffix(strings.TrimSpace(text), "%")
	v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	if percent {
		v /= 100
	}
	return v, err
}

// OneSerial is the argument of what is asked of one unit.
const OneSerial = "the serial number of a unit"
