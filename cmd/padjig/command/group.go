package command

import (
	"cmp"
	"slices"

	"github.com/spf13/pflag"
)

// The headings that help shows flags under, in this order. What has none is what the command
// itself is about, and stands before them.
const (
	OfUnit    = "Unit"
	OfJig     = "Jig"
	OfRuns    = "Runs"
	OfFigures = "Figures"
	OfPages   = "Pages"
	OfPlant   = "Plant"
	OfPerson  = "Person"
	OfRecords = "Records"
	OfBackup  = "Backup"
	OfHandoff = "Hand-off"
	OfAPI     = "API"
	OfLog     = "Log"
	OfOutput  = "Output"
)

var headings = []string{
	OfUnit, OfJig, OfRuns, OfFigures, OfPages, OfPlant, OfPerson, OfRecords, OfBackup, OfHandoff, OfAPI, OfLog, OfOutput,
}

const (
	ofItsOwn = "Flags"
	ofHelp   = "Help"
)

// ofGroup is the annotation of a flag that says its heading.
const ofGroup = "padjig group"

// Group puts flags under a heading of the help.
func Group(flags *pflag.FlagSet, group string, names ...string) {
	for _, name := range names {
		Must(flags.SetAnnotation(name, ofGroup, []string{group}))
	}
}

// GroupOf is the heading of a flag, "" where it has none.
func GroupOf(flag *pflag.Flag) string {
	if group := flag.Annotations[ofGroup]; len(group) == 1 {
		return group[0]
	}
	return ""
}

// grouped are flags under their headings.
type grouped struct {
	heading string
	flags   []*pflag.Flag
}

// fewFlags are so few that headings would only be in the way.
const fewFlags = 9

// groupsOf puts flags that are shown under their headings, in the order of those; headings that
// have no place there come after them, and --help is last.
func groupsOf(flags *pflag.FlagSet) []grouped {
	var shown []*pflag.Flag
	flags.VisitAll(func(f *pflag.Flag) {
		if !f.Hidden {
			shown = append(shown, f)
		}
	})
	if len(shown) < fewFlags {
		return []grouped{{ofItsOwn, shown}}
	}
	of := map[string][]*pflag.Flag{}
	order := append([]string{ofItsOwn}, headings...)
	for _, f := range shown {
		group := cmp.Or(GroupOf(f), ofItsOwn)
		if f.Name == "help" {
			group = ofHelp
		}
		if !slices.Contains(order, group) && group != ofHelp {
			order = append(order, group)
		}
		of[group] = append(of[group], f)
	}
	var groups []grouped
	for _, heading := range append(order, ofHelp) {
		if len(of[heading]) > 0 {
			groups = append(groups, grouped{heading, of[heading]})
		}
	}
	return groups
}
