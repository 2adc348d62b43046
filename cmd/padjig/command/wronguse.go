package command

import (
	"cmp"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// Slips on the command line, said so that a person sees what to type instead.

// Exactly is cobra's check of the number of arguments.
func Exactly(n int, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) == n {
			return nil
		}
		return wrongArguments(cmd, args, what)
	}
}

// OnlyFlags is the check of a command without arguments.
func OnlyFlags(cmd *cobra.Command, args []string) error {
	return Exactly(0, "none, only flags")(cmd, args)
}

// AtLeast is the check for n arguments or more.
func AtLeast(n int, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) >= n {
			return nil
		}
		return wrongArguments(cmd, args, what)
	}
}

func wrongArguments(cmd *cobra.Command, args []string, what string) error {
	if cmd.HasAvailableSubCommands() && len(args) > 0 && (!takesArguments(cmd) || len(near(cmd, args[0])) > 0) {
		return unknownCommand(cmd, args[0])
	}
	if err := swallowed(cmd); err != nil {
		return err
	}
	if len(args) == 0 {
		return WrongUsef("no argument given, expected %s", what)
	}
	quoted := Each(args, func(arg string) string { return fmt.Sprintf("%q", arg) })
	return WrongUsef("%s given (%s), expected %s", Count(len(args), "argument"), strings.Join(quoted, ", "), what)
}

// swallowed finds a flag that took the next one for its value.
func swallowed(cmd *cobra.Command) (err error) {
	cmd.Flags().Visit(func(f *pflag.Flag) {
		if value := f.Value.String(); strings.HasPrefix(value, "--") {
			what, _ := pflag.UnquoteUsage(f)
			err = Fail(Wrong, fmt.Errorf("--%s was given %q, another flag, for its value", f.Name, value), "--"+f.Name+" "+what)
		}
	})
	return err
}

// Choose is what a command does that only holds others.
func Choose(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return cmd.Help()
	}
	return unknownCommand(cmd, args[0])
}

func unknownCommand(cmd *cobra.Command, name string) error {
	return unknownBelow(cmd, name, cmd.CommandPath())
}

// unknownBelow suggests names of commands; path is how one gets there.
func unknownBelow(cmd *cobra.Command, name, path string) error {
	var tries []string
	for _, near := range near(cmd, name) {
		tries = append(tries, path+" "+near)
	}
	if len(tries) == 0 {
		tries = elsewhere(cmd.Root(), cmp.Or(otherWords[strings.ToLower(name)], name))
	}
	return Fail(Wrong, fmt.Errorf("unknown command %q for %q", name, cmd.CommandPath()),
		orHelp(cmd, tries))
}

// near are the names of commands that somebody may have meant.
func near(cmd *cobra.Command, name string) []string {
	cmd.SuggestionsMinimumDistance = slips
	names := cmd.SuggestionsFor(name)
	if len(names) == 0 {
		for _, sub := range cmd.Commands() {
			if (sub.IsAvailableCommand() || sub.Name() == "help") && sub.Name() == otherWords[strings.ToLower(name)] {
				names = append(names, sub.Name())
			}
		}
	}
	return names
}

// otherWords are what people call commands who know others, or another language.
var otherWords = map[string]string{
	"hilfe": "help", "?": "help", "man": "help", "usage": "help",
	"liste": "list", "ls": "list", "dir": "list", "ports": "list", "zeige": "show", "anzeigen": "show", "cat": "show", "view": "show",
	"validate": "check", "lint": "check", "verify": "check", "prüfen": "check", "pruefen": "check",
	"testen": "test", "prüfe": "test", "run": "test", "start": "station", "serve": "station", "server": "station", "web": "station",
	"produkt": "product", "vorrichtung": "jig", "fixture": "jig", "einheit": "unit", "geraet": "unit", "gerät": "unit",
	"qualität": "quality", "qualitaet": "quality", "stats": "quality", "retouren": "returns", "rma": "returns",
	"db": "records", "database": "records", "store": "records", "vergleiche": "compare", "bericht": "report",
}

// elsewhere are the commands of this name below others.
func elsewhere(cmd *cobra.Command, name string) (paths []string) {
	for _, sub := range cmd.Commands() {
		if sub.IsAvailableCommand() && sub.Name() != "completion" {
			if sub.HasParent() && sub.Parent().HasParent() && sub.Name() == name {
				paths = append(paths, sub.CommandPath())
			}
			paths = append(paths, elsewhere(sub, name)...)
		}
	}
	return paths
}

// takesArguments reports whether a command that holds others takes words of its own too.
func takesArguments(cmd *cobra.Command) bool {
	words := strings.Fields(cmd.Use)
	return len(words) > 1 && !strings.HasPrefix(words[1], "-")
}

// slips is how many letters a name may be away from one that is suggested.
const slips = 2

func orHelp(cmd *cobra.Command, tries []string) string {
	help := cmd.CommandPath() + " --help"
	if len(tries) == 0 {
		return help
	}
	return strings.Join(tries, ", ") + ", or " + help
}

// renamed says what flags of before are called now, where a command has them.
var renamed = map[string]string{
	"by": "operator", "operator": "tested-by", "operators": "appraisers", "press": "actuation", "reading": "measure",
}

// WrongFlag is an error of parsing flags. Those of a misspelt command are
// unknown to the one that holds it.
func WrongFlag(cmd *cobra.Command, err error) error {
	if given := cmd.Flags().Args(); cmd.HasAvailableSubCommands() && len(given) > 0 {
		return unknownCommand(cmd, given[0])
	}
	if invalid, is := errors.AsType[*pflag.InvalidValueError](err); is {
		return wrongValue(cmd, invalid)
	}
	if lacks, is := errors.AsType[*pflag.ValueRequiredError](err); is && lacks.GetFlag() != nil {
		name := lacks.GetFlag().Name
		return Fail(Wrong, fmt.Errorf("--%s stands alone: its value is missing", name), "--"+name+" "+whatOf(lacks.GetFlag()))
	}
	unknown, ok := errors.AsType[*pflag.NotExistError](err)
	if !ok {
		return WrongUse(err)
	}
	if now := cmd.Flags().Lookup(renamed[unknown.GetSpecifiedName()]); now != nil {
		what, _ := pflag.UnquoteUsage(now)
		return Fail(Wrong, fmt.Errorf("--%s is called --%s now", unknown.GetSpecifiedName(), now.Name), "--"+now.Name+" "+what)
	}
	flags := &cobra.Command{SuggestionsMinimumDistance: slips} // which knows what is near
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		if !f.Hidden {
			flags.AddCommand(&cobra.Command{Use: f.Name, Run: func(*cobra.Command, []string) {}})
		}
	})
	near := flags.SuggestionsFor(unknown.GetSpecifiedName())
	return Fail(Wrong, err, orHelp(cmd, Each(near, func(name string) string { return "--" + name })))
}

// Adopt gives the commands that cobra adds the manners of ours.
func Adopt(root *cobra.Command) {
	root.InitDefaultHelpCmd()
	root.InitDefaultCompletionCmd()
	for _, cmd := range root.Commands() {
		switch cmd.Name() {
		case "completion":
			cmd.Args, cmd.RunE = cobra.ArbitraryArgs, Choose
		case "help":
			cmd.Run, cmd.RunE = nil, func(_ *cobra.Command, args []string) error { return helpOn(root, args) }
		}
	}
}

// helpOn prints the help of the command that words lead to.
func helpOn(root *cobra.Command, words []string) error {
	found, rest, err := root.Find(words)
	if err != nil {
		return err
	}
	if len(rest) > 0 && found.HasAvailableSubCommands() {
		return unknownBelow(found, rest[0], strings.Replace(found.CommandPath(), root.Name(), root.Name()+" help", 1))
	}
	found.InitDefaultHelpFlag()
	return found.Help()
}
