// Package columns lays text out by the columns that it takes where every character has its own cell.
//
// [Width] counts them as a reader does, [Pad] fills up to them, and [Fill] breaks words into lines.
package columns

import (
	"strings"

	"github.com/rivo/uniseg"
)

// Width is how many columns text takes on a terminal. It goes by what a reader sees as one
// character: an ideograph takes two columns, a letter with its accents one, a flag two.
func Width(text string) int { return uniseg.StringWidth(text) }

// Pad fills text up with spaces to a width in columns.
func Pad(text string, width int) string {
	return text + strings.Repeat(" ", max(0, width-Width(text)))
}

// Fill breaks words into lines of at most width columns. The first begins at a column that
// something else has filled already, all others begin with indent spaces. A word that is
// wider than a line stands on one of its own, whole.
func Fill(words []string, width, column, indent int) string {
	var out strings.Builder
	for i, word := range words {
		wide := Width(word)
		switch {
		case i == 0:
		case column+1+wide > width:
			out.WriteString("\n" + strings.Repeat(" ", indent))
			column = indent
		default:
			out.WriteString(" ")
			column++
		}
		out.WriteString(word)
		column += wide
	}
	return out.String()
}
