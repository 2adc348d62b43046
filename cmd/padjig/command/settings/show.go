package settings

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/object"
)

// newSettings is padjig settings.
func newSettings(fresh func() *cobra.Command) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "settings [COMMAND]",
		Short: "Show what is set, and where; find the mistakes in the file",
		Long: `Shows what the file of settings and the environment set, and where each value
comes from; of one command also what is usual. Every mistake in the file is
named with its line and column.

A setting is a long flag of a command. In the file there is a section for each
command, named as it is typed, with its flags in it:

  every command:
    store: /var/lib/padjig/records.sqlite
  station:
    listen: 127.0.0.1:8399
    jig: [J-0042, J-0043]
  jig list:
    baud: 57600

In the environment the same are PADJIG_STORE, PADJIG_STATION_LISTEN,
PADJIG_STATION_JIG=J-0042,J-0043 and PADJIG_JIG_LIST_BAUD. The environment
comes before the file, and the command line before both. Who does something, to
which unit, and what somebody answers for is said each time and is no setting.
Secrets are never settings: a flag names the file that holds one.`,
		Example: `  padjig settings
  padjig settings station
  padjig settings --config /etc/padjig/trial.yaml --json`,
		RunE: func(cmd *cobra.Command, words []string) error { return show(cmd, fresh(), words, asJSON) },
	}
	command.JSONFlag(cmd, &asJSON)
	return Without(cmd)
}

func show(cmd, scratch *cobra.Command, words []string, asJSON bool) error {
	all := commands(scratch)
	asked := slices.Sorted(maps.Keys(all))
	if len(words) > 0 {
		asked = []string{strings.Join(words, " ")}
		if all[asked[0]] == nil {
			return command.Fail(command.Wrong, fmt.Errorf("no command %q with flags", asked[0]), "padjig settings station, or padjig --help for the commands")
		}
	}
	g, err := gather(cmd, scratch)
	if err != nil {
		return err
	}
	if err := g.complain(cmd, append(asked, everyCommand)...); err != nil {
		return err
	}
	list := listing{object.Settings{File: g.file.path, Commands: []object.CommandSettings{}}}
	if len(words) == 0 {
		list.add(everyCommand, g.shared())
	}
	for _, section := range asked {
		set, err := g.inForce(all[section])
		if err != nil {
			return err
		}
		list.add(section, listed(all[section], set, len(words) > 0))
	}
	if asJSON {
		return object.Print(cmd.OutOrStdout(), list.Settings)
	}
	return list.print(cmd)
}

// shared is what is set for all commands.
func (g gathered) shared() (all []object.Setting) {
	set := map[string]bool{}
	for _, s := range slices.Concat(g.set[everyCommand], g.file.set[everyCommand]) {
		if !set[s.flag] {
			all = append(all, shown(s, everyCommand))
		}
		set[s.flag] = true
	}
	return all
}

// listed are the flags of a command that are set there, or with those that are usual all that can be.
func listed(cmd *cobra.Command, set map[string]setting, usual bool) (all []object.Setting) {
	section := name(cmd)
	for _, flag := range names(cmd) {
		s, is := set[flag]
		switch {
		case is && (usual || s.section != everyCommand):
			all = append(all, shown(s, section))
		case !is && usual && !refusedIn(cmd, flag):
			value := strings.TrimSuffix(strings.TrimPrefix(cmd.Flag(flag).DefValue, "["), "]")
			all = append(all, object.Setting{Flag: flag, Variable: variable(section, flag), Value: value, From: "usual"})
		}
	}
	return all
}

func shown(s setting, section string) object.Setting {
	one := object.Setting{Flag: s.flag, Value: command.Concealed(s.said()), From: "file", Variable: variable(section, s.flag),
		File: s.from.file, Line: s.from.line, Column: s.from.column}
	if s.from.variable != "" {
		one.From, one.Variable = "environment", s.from.variable
	}
	return one
}

// listing is what is set, command by command.
type listing struct{ object.Settings }

func (l *listing) add(section string, of []object.Setting) {
	if len(of) > 0 {
		l.Commands = append(l.Commands, object.CommandSettings{Command: section, Settings: of})
	}
}

func (l listing) print(cmd *cobra.Command) error {
	out := cmd.OutOrStdout()
	if len(l.Commands) == 0 {
		where := "there is no file " + usualPath()
		if l.File != "" {
			where = l.File + " sets nothing"
		}
		fmt.Fprintf(out, "nothing is set: %s, and nothing in the environment\n", where)
		return nil
	}
	for _, of := range l.Commands {
		heading := "padjig " + of.Command
		if of.Command == everyCommand {
			heading = everyCommand
		}
		fmt.Fprintln(out, heading)
		w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
		for _, s := range of.Settings {
			from := s.From
			switch s.From {
			case "environment":
				from = s.Variable
			case "file":
				from = fmt.Sprintf("%s:%d:%d", s.File, s.Line, s.Column)
			}
			fmt.Fprintf(w, "  --%s\t%s\t%s\n", s.Flag, s.Value, from)
		}
		if err := w.Flush(); err != nil {
			return command.Fail(command.NotRecorded, err, "")
		}
	}
	return nil
}
