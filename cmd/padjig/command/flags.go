package command

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command/terminal"
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
	if cmd.Flags().Lookup("product") != nil {
		Must(cmd.MarkFlagFilename("product", "yaml", "yml"))
	}
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
	cmd.Flags().StringVar(path, "store", "", "`FILE` of the records (default $XDG_DATA_HOME/padjig/records.sqlite, "+
		"or ~/.local/share/padjig/records.sqlite); what only reads takes the\naddress of a plant's database as well")
	Group(cmd.Flags(), OfRecords, "store")
}

// JSONFlag adds --json.
func JSONFlag(cmd *cobra.Command, asJSON *bool) {
	cmd.Flags().BoolVar(asJSON, "json", false, "print one JSON object")
	Group(cmd.Flags(), OfOutput, "json")
}

// BaudFlag adds --baud.
func BaudFlag(cmd *cobra.Command, baud *int) {
	*baud = link.DefaultBaud
	cmd.Flags().Var((*speed)(baud), "baud", "`SPEED` of the line in bits per second")
	Group(cmd.Flags(), OfJig, "baud")
}

// speed is that of a serial line.
type speed int

// The speeds that serial lines and their adapters have.
const (
	slowest = 1200
	fastest = 4_000_000
)

func (s *speed) String() string { return strconv.Itoa(int(*s)) }
func (s *speed) Type() string   { return "speed" }

func (s *speed) Set(text string) error {
	v, err := strconv.Atoi(text)
	if err != nil || v < slowest || v > fastest {
		return fmt.Errorf("write a speed from %d to %d bits per second, such as %d", slowest, fastest, link.DefaultBaud)
	}
	*s = speed(v)
	return nil
}

// ActuationFlag adds --actuation with the ways there are; [Pressing] reads it.
func ActuationFlag(cmd *cobra.Command, how *string, ways string) {
	cmd.Flags().StringVar(how, "actuation", "", "`HOW` keys are pressed: "+ways)
	Group(cmd.Flags(), OfJig, "actuation")
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

// progressFlag names what has long commands say how far they are where there is no terminal.
const progressFlag = "progress"

// ProgressFlag adds --progress to a command that may take long.
func ProgressFlag(cmd *cobra.Command) {
	cmd.Flags().Bool(progressFlag, false, "say how far it is every ten seconds, also where there is no terminal")
	Group(cmd.Flags(), OfOutput, progressFlag)
}

// Progress is the line that says how far a command is: what it does, in parts with a noun in
// the plural, "" where there are none to count.
func Progress(cmd *cobra.Command, what, noun string) *terminal.Progress {
	plain, _ := cmd.Flags().GetBool(progressFlag) // false where a command has no such flag
	return terminal.NewProgress(cmd.ErrOrStderr(), plain, what, noun)
}
