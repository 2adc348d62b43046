package main

import (
	"fmt"
	"io"
	"os"
	"regexp"
	"strings"

	"golang.org/x/term"

	"padjig/cmd/padjig/station"
	"padjig/sequence"
	"padjig/sequence/wording"
)

// terminal is a place to write to, and what it can do.
type terminal struct {
	io.Writer
	live   bool // a person looks at it: lines may be redrawn
	colour bool
	wide   int // columns
	high   int // rows, 0 when not a terminal
	words  wording.Words
}

// voice is an output that is not to be spoken to in the program's own words, but in these.
type voice struct {
	io.Writer
	words wording.Words
}

func wordsOf(w io.Writer) wording.Words {
	v, _ := w.(voice)
	return v.words
}

// plainWidth is the width of text for files and pipes.
const plainWidth = 80

func terminalOf(w io.Writer) terminal {
	t := terminal{Writer: w, wide: plainWidth, words: wordsOf(w)}
	f, isFile := w.(*os.File)
	if !isFile || !term.IsTerminal(int(f.Fd())) || os.Getenv("TERM") == "dumb" {
		return t
	}
	t.live, t.colour = true, os.Getenv("NO_COLOR") == ""
	if wide, high, err := term.GetSize(int(f.Fd())); err == nil && wide > 0 {
		t.wide, t.high = wide, high
	}
	return t
}

// Warn says what a person should do something about soon.
func (t terminal) Warn(what station.Warning) {
	fmt.Fprintln(t, t.in("warning:", bold, yellow), t.wrap(2, what.Text))
}

// Ways of writing, as SGR parameters of ECMA-48.
const (
	bold    = "1"
	dim     = "2"
	reverse = "7"
	green   = "32"
	red     = "31"
	yellow  = "33"
	cyan    = "36"
)

// in gives text in these ways, where the terminal has them.
func (t terminal) in(text string, ways ...string) string {
	if !t.colour || len(ways) == 0 {
		return text
	}
	return "\x1b[" + strings.Join(ways, ";") + "m" + text + "\x1b[0m"
}

// up moves the cursor up by lines and clears everything from there on.
func (t terminal) up(lines int) string {
	if lines == 0 {
		return ""
	}
	return fmt.Sprintf("\x1b[%dA\r\x1b[J", lines)
}

// holds reports whether every line of a drawing fits the width. Files and
// pipes hold anything.
func (t terminal) holds(drawing string) bool {
	for line := range strings.Lines(drawing) {
		if t.live && len([]rune(line)) > t.wide { // the line feed makes up for the last column
			return false
		}
	}
	return true
}

// wrap breaks text into lines no wider than the terminal; all but the first
// line begin with indent spaces. A number stays with its unit.
func (t terminal) wrap(indent int, text string) string {
	var out strings.Builder
	column := 0
	for i, word := range keepUnits(strings.Fields(text)) {
		wide := len([]rune(word))
		switch {
		case i == 0:
		case indent+column+1+wide > t.wide:
			out.WriteString("\n" + strings.Repeat(" ", indent))
			column = 0
		default:
			out.WriteString(" ")
			column++
		}
		out.WriteString(word)
		column += wide
	}
	return out.String()
}

var unitWord = regexp.MustCompile(`^([kMGm]?ohm|m?V|m?A|[mu]?s|%)\b`)

// keepUnits joins each number with the unit behind it.
func keepUnits(words []string) []string {
	var kept []string
	for _, word := range words {
		last := len(kept) - 1
		if last >= 0 && unitWord.MatchString(word) && strings.ContainsAny(kept[last][:1], "0123456789") {
			kept[last] += " " + word
			continue
		}
		kept = append(kept, word)
	}
	return kept
}

// why is why a run ended with neither pass nor fail.
func (t terminal) why(r sequence.Run) string {
	text, _ := t.words.Why(r)
	return text
}
