package tag

import (
	"fmt"
	"io"
	"strings"
)

// Text writes the tag as plain text, lines no longer than wide where they can be broken.
func (t Tag) Text(w io.Writer, wide int) error {
	out := sheet{wide: wide}
	out.item("", t.Word+" "+t.Serial)
	if t.Simulated != "" {
		out.item("", t.Simulated)
	}
	out.line("")
	for _, f := range t.Facts {
		if f.Text != "" {
			out.item(fmt.Sprintf("%-14s", f.Head+":"), f.Text)
		}
	}
	if t.Why != "" {
		out.item("", t.Why)
	}
	out.item("", t.Proved)
	out.item("", t.Missing)
	if len(t.Findings) > 0 {
		out.line("\n" + t.say("defects"))
	}
	for _, d := range t.Findings {
		out.item(fmt.Sprintf("%3d. ", d.N), d.What+": "+d.Place)
		out.item("     ", joined(", ", d.Read, d.Limit))
		out.item("     ", d.Where)
	}
	if len(t.Causes) > 0 {
		out.line("\n" + t.say("causes"))
	}
	for _, c := range t.Causes {
		out.item(fmt.Sprintf("%3d. ", c.N), c.Text+", "+c.Share)
		for _, or := range c.Or {
			out.item("     ", or)
		}
	}
	if text := t.Pad.Text(); text != "" && widest(text) <= wide {
		out.line("\n" + strings.TrimSuffix(text, "\n"))
	}
	out.line("")
	out.item("", t.Next)
	out.line("")
	out.item(fmt.Sprintf("%-20s", t.say("run.code")+":"), t.Code)
	out.item(fmt.Sprintf("%-20s", t.say("run")+":"), t.Run)
	_, err := io.WriteString(w, out.text.String())
	return err
}

// sheet is text in lines of a width.
type sheet struct {
	text strings.Builder
	wide int
}

func (s *sheet) line(text string) { s.text.WriteString(text + "\n") }

// item writes text behind a mark, broken lines under its beginning; nothing for no text.
func (s *sheet) item(mark, text string) {
	words := strings.Fields(text)
	if len(words) == 0 {
		return
	}
	indent := len([]rune(mark))
	line := mark + words[0]
	for _, word := range words[1:] {
		if len([]rune(line))+1+len([]rune(word)) > s.wide {
			s.line(line)
			line = strings.Repeat(" ", indent) + word
			continue
		}
		line += " " + word
	}
	s.line(line)
}

func joined(with string, parts ...string) string {
	var kept []string
	for _, p := range parts {
		if p != "" {
			kept = append(kept, p)
		}
	}
	return strings.Join(kept, with)
}

func widest(text string) (most int) {
	for line := range strings.Lines(text) {
		most = max(most, len([]rune(strings.TrimSuffix(line, "\n"))))
	}
	return most
}
