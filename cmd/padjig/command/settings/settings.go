// Package settings gives the flags of commands values from a file and from the environment, under those of the
// command line.
//
// A setting is a long flag of a command and nothing else exists: whatever has a flag has a place in the file and
// a variable. The section "station" of the file holds the flags of padjig station, "jig list" those of padjig jig
// list, [everyCommand] those that all commands share; the variables are PADJIG_STATION_LISTEN, PADJIG_JIG_LIST_NAMES
// and PADJIG_STORE. What says something about one time only, who does it and to what, has to be said then
// ([refusedIn]).
package settings

import (
	"encoding/csv"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// everyCommand is the section of what commands share.
const everyCommand = "every command"

// shared are the flags that may stand there: each is the same wherever it is.
var shared = []string{"store", "baud"}

// setting is a value that a flag gets from somewhere.
type setting struct {
	section string
	flag    string
	values  []string
	list    bool // every value by itself; else the flag's own parser takes the one apart
	from    origin
}

// origin is where it stands: in a file, or in a variable.
type origin struct {
	file         string
	line, column int
	variable     string
}

func (o origin) String() string {
	if o.variable != "" {
		return o.variable
	}
	return fmt.Sprintf("%s:%d:%d", o.file, o.line, o.column)
}

// give hands a flag its value as its own parser takes it.
func (s setting) give(flags *pflag.FlagSet) error {
	if !s.list {
		return flags.Set(s.flag, s.values[0])
	}
	value, is := flags.Lookup(s.flag).Value.(pflag.SliceValue)
	if !is {
		return fmt.Errorf("takes one value, not %d", len(s.values))
	}
	if err := flags.Set(s.flag, ""); err != nil { // that it is set, whatever it is
		return err
	}
	return value.Replace(s.values)
}

// said is the value in one line.
func (s setting) said() string {
	if !s.list {
		return s.values[0]
	}
	var text strings.Builder
	w := csv.NewWriter(&text)
	_ = w.Write(s.values) // into memory
	w.Flush()
	return strings.TrimSpace(text.String())
}

// commands are those that have sections, by name: without those that only hold others, and those of cobra.
func commands(root *cobra.Command) map[string]*cobra.Command {
	all := map[string]*cobra.Command{}
	var walk func(at *cobra.Command)
	walk = func(at *cobra.Command) {
		for _, c := range at.Commands() {
			if c.Hidden || c.Name() == "help" || c.Name() == "completion" || c.Annotations[without] != "" {
				continue
			}
			if len(names(c)) > 0 {
				all[name(c)] = c
			}
			walk(c)
		}
	}
	walk(root)
	return all
}

// without marks a command that goes by no settings, and so runs whatever is wrong with them.
const without = "padjig without settings"

// Without says that a command goes by no settings.
func Without(cmd *cobra.Command) *cobra.Command {
	if cmd.Annotations == nil {
		cmd.Annotations = map[string]string{}
	}
	cmd.Annotations[without] = "yes"
	return cmd
}

// name is a command as it is typed, without padjig.
func name(cmd *cobra.Command) string {
	_, rest, _ := strings.Cut(cmd.CommandPath(), " ")
	return rest
}

// names are the flags of a command: those of its own that are shown.
func names(cmd *cobra.Command) (all []string) {
	cmd.LocalNonPersistentFlags().VisitAll(func(f *pflag.Flag) {
		if !f.Hidden && f.Name != "help" {
			all = append(all, f.Name)
		}
	})
	return all
}

// sharedNames are those of the section for all commands.
func sharedNames(root *cobra.Command) []string {
	all := slices.Clone(shared)
	root.PersistentFlags().VisitAll(func(f *pflag.Flag) {
		if !f.Hidden && f.Name != configFlag {
			all = append(all, f.Name)
		}
	})
	return all
}

// sections are the names of all sections.
func sections(root *cobra.Command) []string {
	return append([]string{everyCommand}, slices.Sorted(maps.Keys(commands(root)))...)
}

// ofOneTime are the flags that say who does something, to what, and that somebody is there: of this time, whatever the
// command.
var ofOneTime = []string{
	"serial", "operator", "sign-in", "reason", "note", // who, to what and why
	"engineering", "partial", "although", "yes", "confirm", "by-lid", "by-press", // what somebody answers for
	"moving", "hands", "fault", // what moves, and what a person has to be there for
	"json", "csv", // the form in which whoever asks wants an answer
}

// ofPlaces are the flags that say where things are and how they work there. A command that records a deed in
// somebody's name takes these alone from settings: what is done is said when it is done.
var ofPlaces = []string{"store", "baud", "jig", "product", "actuation", "box", "interval", "lang"}

// refusedIn reports whether a flag has to be given on the command line each time.
func refusedIn(cmd *cobra.Command, flag string) bool {
	deed := cmd.Flags().Lookup("sign-in") != nil
	return slices.Contains(ofOneTime, flag) || deed && !slices.Contains(ofPlaces, flag)
}

// holder finds the command in whose flags a section's settings are read: that of the section, or for what
// is shared any that has the flag.
func holder(root *cobra.Command, section, flag string) *cobra.Command {
	all := commands(root)
	if section != everyCommand {
		return all[section]
	}
	for _, n := range slices.Sorted(maps.Keys(all)) {
		if all[n].Flag(flag) != nil {
			return all[n]
		}
	}
	return root
}
