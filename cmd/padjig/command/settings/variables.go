package settings

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"padjig/sequence/fields"
)

const (
	variables      = "PADJIG_"
	configVariable = variables + "CONFIG"
)

// otherVariables are what else padjig takes from the environment.
var otherVariables = []string{configVariable, "PADJIG_PORTS"}

// variable is the name of a setting in the environment.
func variable(section, flag string) string {
	whole := flag
	if section != everyCommand {
		whole = section + "_" + flag
	}
	return variables + strings.ToUpper(strings.NewReplacer("-", "_", " ", "_").Replace(whole))
}

// known are the settings that there are, by the name of their variable.
func known(root *cobra.Command) map[string][2]string {
	all := map[string][2]string{}
	for _, flag := range sharedNames(root) {
		all[variable(everyCommand, flag)] = [2]string{everyCommand, flag}
	}
	for section, cmd := range commands(root) {
		for _, flag := range names(cmd) {
			all[variable(section, flag)] = [2]string{section, flag}
		}
	}
	return all
}

// environment reads the variables among those of a process, section by section; wrong are those that are none, or
// whose value the flag does not take.
func environment(scratch *cobra.Command, process []string) (set map[string][]setting, wrong map[string][]string) {
	set, wrong = map[string][]setting{}, map[string][]string{}
	all := known(scratch)
	for _, one := range slices.Sorted(slices.Values(process)) {
		name, value, _ := strings.Cut(one, "=")
		if !strings.HasPrefix(name, variables) || slices.Contains(otherVariables, name) || value == "" {
			continue
		}
		is, there := all[name]
		section, flag := is[0], is[1]
		if !there {
			wrong[""] = append(wrong[""], fmt.Sprintf("%s is no setting%s", name, near(name, all)))
			continue
		}
		cmd := holder(scratch, section, flag)
		if refusedIn(cmd, flag) {
			wrong[section] = append(wrong[section], fmt.Sprintf(
				"%s: --%s says something of one time only and is no setting; say it each time", name, flag))
			continue
		}
		s := setting{section: section, flag: flag, values: []string{value}, from: origin{variable: name}}
		if cmd.Flag(flag).Value.Type() == "stringArray" { // its own parser takes all for one
			s.values, s.list = strings.Split(value, ","), true
		}
		if err := s.give(cmd.Flags()); err != nil {
			code, args := refused(cmd.Flag(flag), value, err)
			wrong[section] = append(wrong[section], name+": "+fmt.Sprintf(format.Sentences[code], args...))
			continue
		}
		set[section] = append(set[section], s)
	}
	return set, wrong
}

// near ends a sentence about a name that is not known with those that are likely meant.
func near(name string, all map[string][2]string) string {
	var names []string
	for n := range all {
		names = append(names, n)
	}
	slices.Sort(names)
	return fields.Suggest(name, append(names, otherVariables...)).String()
}

// excludes reports whether another flag that is set already keeps this one out: what was said nearer wins over what
// was written farther.
func excludes(flags *pflag.FlagSet, flag string) bool {
	const groups = "cobra_annotation_mutually_exclusive" // as cobra keeps them
	for _, group := range flags.Lookup(flag).Annotations[groups] {
		for other := range strings.FieldsSeq(group) {
			if other != flag && flags.Changed(other) {
				return true
			}
		}
	}
	return false
}
