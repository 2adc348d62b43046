package command

import (
	"strings"

	"padjig/cmd/padjig/command/terminal"
)

// Listed are words in quotes for a help, lines no wider than a page.
func Listed(words []string) string {
	var text strings.Builder
	column := terminal.PlainWidth
	for i, word := range words {
		word = `"` + word + `"`
		if i < len(words)-1 {
			word += ","
		}
		if column+1+len(word) > terminal.PlainWidth {
			if i > 0 {
				text.WriteString("\n")
			}
			text.WriteString(" ")
			column = 1
		}
		text.WriteString(" " + word)
		column += 1 + len(word)
	}
	return text.String()
}
