// Package manual writes the manual pages of the program, from the same texts that --help shows.
package manual

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"padjig/cmd/padjig/command"
)

// Command is padjig manual, for who makes a package.
func Command() *cobra.Command {
	return &cobra.Command{
		Use: "manual FOLDER", Short: "Write the manual pages, one for each command, into a folder", Hidden: true,
		Example: `  padjig manual man1`,
		Args:    command.Exactly(1, "a folder that is there"),
		RunE: func(cmd *cobra.Command, args []string) error {
			for _, page := range Pages(cmd.Root()) {
				if err := os.WriteFile(filepath.Join(args[0], page.Name+".1"), page.Text, 0o644); err != nil {
					return command.Fail(command.Wrong, fmt.Errorf("write the manual: %w", err), "a folder that may be written to")
				}
			}
			return nil
		},
	}
}

// Page is one manual page.
type Page struct {
	Name string // padjig-jig-list
	Text []byte
}

// Pages are those of a command and all below it that are shown.
func Pages(cmd *cobra.Command) []Page {
	all := []Page{{name(cmd), text(cmd)}}
	for _, sub := range cmd.Commands() {
		if sub.IsAvailableCommand() && sub.Name() != "help" {
			all = append(all, Pages(sub)...)
		}
	}
	return all
}

func name(cmd *cobra.Command) string { return strings.ReplaceAll(cmd.CommandPath(), " ", "-") }

// text is a page in the macros of man(7). Long texts are laid out already, and stay as they are.
func text(cmd *cobra.Command) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, ".TH %s 1 \"\" padjig \"User commands\"\n.SH NAME\n%s \\- %s\n",
		strings.ToUpper(escaped(name(cmd))), escaped(name(cmd)), escaped(cmd.Short))
	b.WriteString(".SH SYNOPSIS\n")
	if cmd.Runnable() {
		fmt.Fprintf(&b, ".B %s\n", escaped(cmd.UseLine()))
	} else {
		fmt.Fprintf(&b, ".B %s COMMAND\n", escaped(cmd.CommandPath()))
	}
	if cmd.Long != "" {
		section(&b, "DESCRIPTION", cmd.Long)
	}
	flags(&b, cmd)
	if cmd.Example != "" {
		section(&b, "EXAMPLES", cmd.Example)
	}
	section(&b, "FILES", "/etc/padjig/padjig.yaml\n    what is the same every day: any long flag, in the section of its command")
	var others []string
	if cmd.HasParent() {
		others = append(others, name(cmd.Parent()))
	}
	for _, sub := range cmd.Commands() {
		if sub.IsAvailableCommand() && sub.Name() != "help" {
			others = append(others, name(sub))
		}
	}
	b.WriteString(".SH SEE ALSO\n")
	for i, other := range others {
		comma := ","
		if i == len(others)-1 {
			comma = ""
		}
		fmt.Fprintf(&b, ".BR %s (1)%s\n", escaped(other), comma)
	}
	return b.Bytes()
}

func section(b *bytes.Buffer, title, body string) {
	fmt.Fprintf(b, ".SH %s\n.nf\n", title)
	for line := range strings.Lines(strings.TrimRight(body, "\n")) {
		fmt.Fprintf(b, "%s\n", escaped(strings.TrimRight(line, "\n")))
	}
	b.WriteString(".fi\n")
}

func flags(b *bytes.Buffer, cmd *cobra.Command) {
	if !cmd.HasAvailableLocalFlags() {
		return
	}
	b.WriteString(".SH OPTIONS\n")
	cmd.LocalFlags().VisitAll(func(f *pflag.Flag) {
		if f.Hidden {
			return
		}
		of, usage := pflag.UnquoteUsage(f)
		short := ""
		if f.Shorthand != "" {
			short = "-" + f.Shorthand + ", "
		}
		fmt.Fprintf(b, ".TP\n.B %s\n%s\n", escaped(strings.TrimSpace(short+"--"+f.Name+" "+of)), escaped(strings.ReplaceAll(usage, "\n", " ")))
	})
}

// escaped is text that roff takes for nothing but text.
func escaped(text string) string {
	text = strings.NewReplacer(`\`, `\e`, "-", `\-`).Replace(text)
	if strings.HasPrefix(text, ".") || strings.HasPrefix(text, "'") {
		text = `\&` + text
	}
	return text
}
