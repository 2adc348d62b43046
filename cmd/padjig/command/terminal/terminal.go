// Package terminal is where commands write for people: what the output can do, and
// in which words it is spoken to.
package terminal

import (
	"fmt"
	"io"
	"os"
	"regexp"
	"strings"

	"golang.org/x/term"

	"padjig/cmd/padjig/station"
	"padjig/results/report/columns"
	"padjig/sequence"
	"padjig/sequence/wording"
)

// Terminal is a place to write to, and what it can do.
type Terminal struct {
	io.Writer
	Live   bool // a person looks at it: lines may be redrawn
	Colour bool
	Wide   int // columns
	High   int // rows, 0 when not a terminal
	Words  wording.Words
}

// Voice is an output that is not to be spoken to in the program's own words, but in these.
type Voice struct {
	io.Writer
	Words wording.Words
}

// WordsOf are the words that an output is spoken to in.
func WordsOf(w io.Writer) wording.Words {
	if s, is := w.(*Sink); is {
		w = s.Writer
	}
	v, _ := w.(Voice)
	return v.Words
}

// PlainWidth is the width of text for files and pipes.
const PlainWidth = 80

// Of is what there is behind a writer.
func Of(w io.Writer) Terminal {
	t := Terminal{Writer: w, Wide: PlainWidth, Words: WordsOf(w)}
	f := fileOf(w)
	if f == nil || !term.IsTerminal(int(f.Fd())) || os.Getenv("TERM") == "dumb" {
		return t
	}
	t.Live, t.Colour = true, os.Getenv("NO_COLOR") == ""
	if wide, high, err := term.GetSize(int(f.Fd())); err == nil && wide > 0 {
		t.Wide, t.High = wide, high
	}
	return t
}

// Warn says what a person should do something about soon.
func (t Terminal) Warn(what station.Warning) {
	fmt.Fprintln(t, t.In("warning:", Bold, Yellow), t.Wrap(2, what.Text))
}

// Ways of writing, as SGR parameters of ECMA-48.
const (
	Bold    = "1"
	Dim     = "2"
	Reverse = "7"
	Green   = "32"
	Red     = "31"
	Yellow  = "33"
	Cyan    = "36"
)

// In gives text in these ways, where the terminal has them.
func (t Terminal) In(text string, ways ...string) string {
	if !t.Colour || len(ways) == 0 {
		return text
	}
	return "\x1b[" + strings.Join(ways, ";") + "m" + text + "\x1b[0m"
}

// Up moves the cursor up by lines and clears everything from there on.
func (t Terminal) Up(lines int) string {
	if lines == 0 {
		return ""
	}
	return fmt.Sprintf("\x1b[%dA\r\x1b[J", lines)
}

// Holds reports whether every line of a drawing fits the width. Files and
// pipes hold anything.
func (t Terminal) Holds(drawing string) bool {
	for line := range strings.Lines(drawing) {
		if t.Live && columns.Width(strings.TrimRight(line, "\n")) > t.Wide {
			return false
		}
	}
	return true
}

// Wrap breaks text into lines no wider than the terminal; all but the first
// line begin with indent spaces. A number stays with its unit.
func (t Terminal) Wrap(indent int, text string) string {
	return columns.Fill(KeepUnits(strings.Fields(text)), t.Wide, indent, indent)
}

var unitWord = regexp.MustCompile(`^([kMGm]?ohm|m?V|m?A|[mu]?s|%)\b`)

// KeepUnits joins each number with the unit behind it.
func KeepUnits(words []string) []string {
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

// Why is why a run ended with neither pass nor fail.
func (t Terminal) Why(r sequence.Run) string {
	text, _ := t.Words.Why(r)
	return text
}
