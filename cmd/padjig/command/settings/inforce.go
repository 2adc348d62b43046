package settings

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"padjig/cmd/padjig/command"
)

// configFlag names the file of settings.
const configFlag = "config"

// usualPath is where the file of settings lies when nobody says otherwise.
func usualPath() string {
	if runtime.GOOS == "windows" {
		return filepath.Join(cmp.Or(os.Getenv("ProgramData"), `C:\ProgramData`), "padjig", "padjig.yaml")
	}
	return "/etc/padjig/padjig.yaml"
}

// Adopt has the commands below root go by settings, and adds --config and padjig settings. fresh makes the same
// commands anew, to try values on.
func Adopt(root *cobra.Command, fresh func() *cobra.Command) {
	root.PersistentFlags().String(configFlag, "", "`FILE` of settings (default $PADJIG_CONFIG, or "+"/etc/padjig/padjig.yaml)")
	command.Must(root.MarkPersistentFlagFilename(configFlag, "yaml", "yml"))
	root.PersistentPreRunE = func(cmd *cobra.Command, _ []string) error {
		if commands(cmd.Root())[name(cmd)] == nil {
			return nil
		}
		return apply(cmd, fresh())
	}
	root.AddCommand(newSettings(fresh))
}

// gathered is what file and environment set, and what is wrong with it.
type gathered struct {
	file contents
	set  map[string][]setting // by the environment
	odd  map[string][]string
}

// gather reads both; cmd says by --config which file.
func gather(cmd, scratch *cobra.Command) (gathered, error) {
	path, named := os.LookupEnv(configVariable)
	if flag := cmd.Flag(configFlag); flag.Changed {
		path, named = flag.Value.String(), true
	}
	if path == "" {
		path, named = usualPath(), named && cmd.Flag(configFlag).Changed
	}
	g := gathered{}
	var err error
	g.file, err = load(scratch, path, named)
	g.set, g.odd = environment(scratch, os.Environ())
	return g, err
}

// complain prints what is wrong in sections, or with all of it, every mistake on a line of its own.
func (g gathered) complain(cmd *cobra.Command, sections ...string) error {
	mistakes := g.file.wrong(sections...)
	for _, m := range mistakes {
		fmt.Fprintln(cmd.ErrOrStderr(), m.Error())
	}
	var odd []string
	for _, section := range append(sections, "") {
		odd = append(odd, g.odd[section]...)
	}
	for _, text := range odd {
		fmt.Fprintln(cmd.ErrOrStderr(), text)
	}
	switch {
	case len(mistakes) > 0:
		return command.Fail(command.Wrong, fmt.Errorf("the settings %s have %s", g.file.path, command.Count(len(mistakes)+len(odd), "mistake")),
			"correct what is named above, then: padjig settings")
	case len(odd) > 0:
		return command.Fail(command.Wrong, fmt.Errorf("the environment has %s", command.Count(len(odd), "mistake")),
			"unset or correct what is named above, then: padjig settings")
	}
	return nil
}

// lay gives flags what is set for a command and they do not have yet, the strongest first: its own before what all
// share, the environment before the file. What was said nearer keeps out what was written farther; two that keep each
// other out and stand beside one another are left to whoever refuses both.
func (g gathered) lay(flags *pflag.FlagSet, section string, laid func(setting)) error {
	for _, level := range []map[string][]setting{g.set, g.file.set} {
		all := slices.Concat(level[section], level[everyCommand])
		for _, s := range slices.DeleteFunc(all, func(s setting) bool { return flags.Lookup(s.flag) == nil || excludes(flags, s.flag) }) {
			if flags.Changed(s.flag) {
				continue
			}
			if err := s.give(flags); err != nil {
				return command.WrongUsef("%s: --%s: %w", s.from, s.flag, err)
			}
			laid(s)
		}
	}
	return nil
}

// apply gives the flags of a command that nobody gave on the command line their values.
func apply(cmd, scratch *cobra.Command) error {
	g, err := gather(cmd, scratch)
	if err != nil {
		return err
	}
	section := name(cmd)
	if err := g.complain(cmd, section, everyCommand); err != nil {
		return err
	}
	return g.lay(cmd.Flags(), section, func(s setting) {
		command.Must(cmd.Flags().SetAnnotation(s.flag, command.From, []string{s.from.String()}))
	})
}

// inForce is what flags of a command have without a command line, and from where; nothing where that is usual.
func (g gathered) inForce(cmd *cobra.Command) (map[string]setting, error) {
	all := map[string]setting{}
	try := pflag.NewFlagSet("", pflag.ContinueOnError) // knows what was set, and what keeps what out
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		try.AddFlag(&pflag.Flag{Name: f.Name, Value: f.Value, Annotations: f.Annotations})
	})
	err := g.lay(try, name(cmd), func(s setting) { all[s.flag] = s })
	return all, err
}
