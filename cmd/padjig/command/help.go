package command

import (
	"cmp"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"padjig/cmd/padjig/command/terminal"
	"padjig/results/report/columns"
)

// Help is written for 80 columns and fits itself to a terminal that has fewer. Texts are
// written in paragraphs; what begins with a space is an item of a list, its name set off
// from what is said of it by two spaces or more, and keeps its place.

// A help is never wider than widestHelp, and below narrowestHelp it would be harder to read
// than the terminal's own breaks.
const (
	widestHelp    = terminal.PlainWidth
	narrowestHelp = 60
)

// PrintHelp prints what a command is for, its flags, and last its examples, where the eye is
// when the text has scrolled by.
func PrintHelp(to io.Writer, cmd *cobra.Command) {
	width := min(max(terminal.Of(to).Wide, narrowestHelp), widestHelp)
	io.WriteString(to, helpText(cmd, width)) // an output that takes nothing is the caller's to find
}

func helpText(cmd *cobra.Command, width int) string {
	var out strings.Builder
	if text := cmp.Or(cmd.Long, cmd.Short); text != "" {
		out.WriteString(reflow(strings.TrimRight(text, " \n"), width) + "\n\n")
	}
	out.WriteString("Usage:\n")
	if cmd.Runnable() {
		out.WriteString("  " + columns.Fill(unbroken(cmd.UseLine()), width, 2, 6) + "\n")
	}
	if cmd.HasAvailableSubCommands() {
		out.WriteString("  " + cmd.CommandPath() + " COMMAND\n\nCommands:\n" + commandList(cmd, width))
	}
	if cmd.HasAvailableLocalFlags() {
		out.WriteString(flagLists(groupsOf(cmd.LocalFlags()), width))
	}
	if cmd.HasExample() {
		out.WriteString("\nExamples:\n" + examples(cmd.Example, width))
	}
	return out.String()
}

// column is where what is said of a command or flag begins at the latest.
const column = 26

func commandList(cmd *cobra.Command, width int) string {
	var out strings.Builder
	for _, sub := range cmd.Commands() {
		if sub.IsAvailableCommand() {
			out.WriteString(entry(columns.Pad("  "+sub.Name(), sub.NamePadding()+2), sub.Short, sub.NamePadding()+4, width))
		}
	}
	return out.String()
}

func flagLists(groups []grouped, width int) string {
	at := 0
	for _, g := range groups {
		for _, f := range g.flags {
			at = min(max(at, columns.Width(flagName(f))+2), column)
		}
	}
	var out strings.Builder
	for _, g := range groups {
		out.WriteString("\n" + g.heading + ":\n")
		for _, f := range g.flags {
			out.WriteString(entry(flagName(f), flagUsage(f), at, width))
		}
	}
	return out.String()
}

// entry is a name and what is said of it, from a column on.
func entry(name, said string, at, width int) string {
	gap := "\n" + strings.Repeat(" ", at)
	if wide := columns.Width(name); wide+2 <= at {
		gap = strings.Repeat(" ", at-wide)
	}
	return name + gap + columns.Fill(prose(said), width, at, at) + "\n"
}

func flagName(f *pflag.Flag) string {
	name := "      --" + f.Name
	if f.Shorthand != "" {
		name = "  -" + f.Shorthand + ", --" + f.Name
	}
	what, _ := pflag.UnquoteUsage(f)
	if what != "" {
		name += " " + what
	}
	return name
}

func flagUsage(f *pflag.Flag) string {
	_, usage := pflag.UnquoteUsage(f)
	switch {
	case slices.Contains([]string{"", "0", "false", "[]", "0s"}, f.DefValue):
		return usage
	case f.Value.Type() == "string":
		return fmt.Sprintf("%s (default %q)", usage, f.DefValue)
	}
	return fmt.Sprintf("%s (default %s)", usage, f.DefValue)
}

// reflow breaks a text anew: paragraphs, and items of lists each at its place.
func reflow(text string, width int) string {
	var out []string
	var now *block
	end := func() {
		if now != nil {
			out = append(out, now.lines(width))
			now = nil
		}
	}
	for line := range strings.Lines(text) {
		line = strings.TrimRight(line, " \n")
		switch {
		case line == "":
			end()
			out = append(out, "")
		case now != nil && now.goesOn(line):
			now.said = append(now.said, prose(line)...)
		default:
			end()
			now = blockOf(line)
		}
	}
	end()
	return strings.Join(out, "\n")
}

// block is a paragraph, or an item of a list with its name in front.
type block struct {
	name string // with the spaces before and behind it
	at   int    // the column in which what is said of it begins
	said []string
}

var item = regexp.MustCompile(`^( +(?:\S+ )*\S+  +)(\S.*)$`)

func blockOf(line string) *block {
	if !strings.HasPrefix(line, " ") {
		return &block{said: prose(line)}
	}
	if parts := item.FindStringSubmatch(line); parts != nil {
		return &block{name: parts[1], at: columns.Width(parts[1]), said: prose(parts[2])}
	}
	indent := line[:len(line)-len(strings.TrimLeft(line, " "))]
	return &block{name: indent, at: len(indent), said: prose(line)}
}

// goesOn reports whether a line is one more of this block.
func (b *block) goesOn(line string) bool {
	indent := len(line) - len(strings.TrimLeft(line, " "))
	named := strings.TrimSpace(b.name) != "" || b.at == 0
	return named && indent == b.at && (b.at == 0 || item.FindStringSubmatch(line) == nil)
}

func (b *block) lines(width int) string {
	return b.name + columns.Fill(b.said, width, b.at, b.at)
}

// examples are command lines; one that is too long goes on behind a backslash, so that it can
// be copied. What is said of a line stands two spaces or more behind it.
func examples(text string, width int) string {
	var out strings.Builder
	for line := range strings.Lines(text) {
		line = strings.TrimRight(line, "\n")
		if columns.Width(line) <= width {
			out.WriteString(line + "\n")
			continue
		}
		if parts := item.FindStringSubmatch(line); parts != nil {
			out.WriteString(entry(strings.TrimRight(parts[1], " "), parts[2], 6, width))
			continue
		}
		filled := columns.Fill(unbroken(line), width-4, 0, 6) // room for " \" and the two spaces in front
		out.WriteString("  " + strings.ReplaceAll(filled, "\n", " \\\n") + "\n")
	}
	return out.String()
}

// prose are the words of a text, a number one with its unit.
func prose(text string) []string { return terminal.KeepUnits(strings.Fields(text)) }

// unbroken are the words of a command line; what stands in quotes is one, as is a flag with
// what follows it.
func unbroken(line string) []string {
	var words []string
	for _, field := range strings.Fields(line) {
		if last := len(words) - 1; last >= 0 && goesWith(words[last], field) {
			words[last] += " " + field
			continue
		}
		words = append(words, field)
	}
	return words
}

// goesWith reports whether a word belongs behind what stands before it.
func goesWith(before, word string) bool {
	if strings.Count(before, `"`)%2 == 1 {
		return true
	}
	return strings.HasPrefix(before, "--") && !strings.ContainsAny(before, " =") && !strings.HasPrefix(word, "-")
}
