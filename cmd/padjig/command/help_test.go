package command

import (
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"

	"padjig/results/report/columns"
)

func TestFlagsStandUnderTheirHeadings(t *testing.T) {
	cmd := &cobra.Command{Use: "look", Short: "Look", Run: func(*cobra.Command, []string) {}}
	for _, name := range []string{"own", "store", "jig", "json", "listen", "product", "hidden", "backup-at", "new"} {
		cmd.Flags().String(name, "", "what "+name+" is")
	}
	Must(cmd.Flags().MarkHidden("hidden"))
	assert.Len(t, groupsOf(cmd.LocalFlags()), 1, "few flags need no headings")
	cmd.Flags().Int("last", 50, "the newest `N`")
	cmd.InitDefaultHelpFlag()
	f := cmd.Flags()
	Group(f, OfOutput, "json")
	Group(f, OfRecords, "store")
	Group(f, OfJig, "jig")
	Group(f, "Of a later day", "new")
	var got []string
	for _, g := range groupsOf(cmd.LocalFlags()) {
		got = append(got, g.heading+": "+strings.Join(Each(g.flags, func(f *pflag.Flag) string { return f.Name }), " "))
	}
	assert.Equal(t, []string{
		"Flags: backup-at last listen own product", "Jig: jig", "Records: store", "Output: json", "Of a later day: new", "Help: help",
	}, got)
	assert.Panics(t, func() { Group(f, OfJig, "jog") }, "a flag that there is not")
}

func TestHelpFitsItsWidth(t *testing.T) {
	cmd := &cobra.Command{
		Use: "look SERIAL", Short: "Look",
		Long: `Looks at a unit for as long as somebody wants to, and says of every key how it stands.

  one      a first thing, which takes more than the line that it is given in the source of this text
           and goes on
    two    deeper
  three    last

A paragraph with 100 ohm.`,
		Example: `  padjig look GCC-000001-3 --reason "a customer who said that it was late" --operator Ines
  padjig look`,
		Run: func(*cobra.Command, []string) {},
	}
	cmd.Flags().String("a-flag-with-a-long-name", "usual", "`SOMETHING` that needs some words to say it, more than a line has")
	cmd.Flags().String("b", "", "名前 `NAME` of the keypad 温室 in wide characters, each of which takes two columns")
	text := helpText(cmd, 60)
	assert.Equal(t, `Looks at a unit for as long as somebody wants to, and says
of every key how it stands.

  one      a first thing, which takes more than the line
           that it is given in the source of this text and
           goes on
    two    deeper
  three    last

A paragraph with 100 ohm.

Usage:
  look SERIAL [flags]

Flags:
      --a-flag-with-a-long-name SOMETHING
                          SOMETHING that needs some words to
                          say it, more than a line has
                          (default "usual")
      --b NAME            名前 NAME of the keypad 温室 in
                          wide characters, each of which
                          takes two columns

Examples:
  padjig look GCC-000001-3 \
      --reason "a customer who said that it was late" \
      --operator Ines
  padjig look
`, text)
	for width := 60; width <= 80; width++ {
		for line := range strings.Lines(helpText(cmd, width)) {
			assert.LessOrEqual(t, columns.Width(strings.TrimRight(line, "\n")), width, line)
		}
	}
}
