package report

import (
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"padjig/results/answers"
)

// Document answers a question.
type Document struct {
	Title      string
	Selection  string             // which runs it is about, in words
	Link       string             // the same as URL query parameters
	Simulated  bool               // of runs on simulated jigs
	Remarks    []string           // what a reader must know first, such as what is pooled
	Before     []answers.Sentence // conclusions that stand before any figure
	Drawing    string             // of the pad, for a terminal; empty for none
	Tables     []Table
	Charts     []Chart
	Conclusion []answers.Sentence

	zone string // of its times; empty for none
}

// Chart is a drawing twice: for a terminal and for a page.
type Chart struct {
	Title string
	Text  func(wide int) string // nil: nothing to show in a terminal
	SVG   func() template.HTML  // nil: nothing to show on a page
}

// Text writes the document for a terminal of so many columns.
func (d Document) Text(w io.Writer, wide int) error {
	var b strings.Builder
	title := d.Title
	if d.Simulated {
		title += ", SIMULATED"
	}
	fmt.Fprintf(&b, "%s\n%s\n", title, wrapped("", "of "+strings.TrimSuffix(d.Selection, ", SIMULATED"), wide))
	if d.zone != "" {
		fmt.Fprintf(&b, "times: %s\n", d.zone)
	}
	for _, r := range d.Remarks {
		fmt.Fprintf(&b, "\n%s\n", wrapped("note: ", r, wide))
	}
	for _, c := range d.Before {
		fmt.Fprintf(&b, "\n%s\n", wrapped("", Told(terminal, c), wide))
	}
	if d.Drawing != "" {
		b.WriteString("\n" + d.Drawing)
	}
	for _, c := range d.Charts {
		if c.Text != nil {
			b.WriteString("\n" + c.Text(wide))
		}
	}
	for _, t := range d.Tables {
		if !t.Quiet {
			b.WriteString("\n" + t.Text(wide))
		}
	}
	for _, c := range d.Conclusion {
		fmt.Fprintf(&b, "\n%s\n", wrapped("", Told(terminal, c), wide))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// By is the document with its times by the clock of a zone.
func (d Document) By(zone *time.Location) Document {
	tables, said := make([]Table, len(d.Tables)), make([]answers.Sentence, len(d.Conclusion))
	for i, t := range d.Tables {
		if tables[i] = t.By(zone); t.timed() {
			if d.zone = zone.String(); zone == time.Local {
				d.zone = "the clock of this computer"
			}
		}
	}
	for i, s := range d.Conclusion {
		said[i] = s.By(zone)
	}
	first := make([]answers.Sentence, len(d.Before))
	for i, s := range d.Before {
		first[i] = s.By(zone)
	}
	d.Tables, d.Before, d.Conclusion = tables, first, said
	return d
}

// wrapped breaks text into lines no wider than wide; lines after the first are indented.
func wrapped(lead, text string, wide int) string {
	indent := strings.Repeat(" ", len(lead))
	var lines []string
	line := lead
	for i, word := range joined(strings.Fields(text)) {
		if i > 0 && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > wide {
			lines, line = append(lines, line), indent+word
			continue
		}
		if i > 0 {
			line += " "
		}
		line += word
	}
	return strings.Join(append(lines, line), "\n")
}

// Object is the document for programs.
type Object struct {
	Title      string           `json:"title"`
	Selection  string           `json:"selection"`
	Link       string           `json:"link"`
	Simulated  bool             `json:"simulated"`
	Remarks    []string         `json:"remarks"`
	Tables     map[string]Table `json:"tables"`
	Conclusion []string         `json:"conclusion"`
	Sentences  []Sentence       `json:"sentences"` // the conclusions by code
}

// Object gives the document as one object.
func (d Document) Object() Object {
	tables := map[string]Table{}
	for _, t := range d.Tables {
		tables[t.Name] = t
	}
	told := d.Told()
	first := append(slices.Clone(d.Remarks), told[:len(d.Before)]...)
	return Object{d.Title, d.Selection, d.Link, d.Simulated, listed(first), tables, listed(told), d.sentences()}
}

// all are the conclusions, those before any figure first.
func (d Document) all() []answers.Sentence { return append(slices.Clone(d.Before), d.Conclusion...) }

// Told are the conclusions in words.
func (d Document) Told() (out []string) {
	for _, c := range d.all() {
		out = append(out, Told(terminal, c))
	}
	return out
}

// Sentence is a conclusion as programs see it: its code does not change with
// its words.
type Sentence struct {
	Code      string `json:"code"`
	Attention bool   `json:"attention"`
	Args      []any  `json:"args"`
}

func (d Document) sentences() []Sentence {
	out := []Sentence{}
	for _, c := range d.all() {
		s := Sentence{c.Code, c.Tone == answers.Attention, []any{}}
		for _, a := range c.Args {
			s.Args = append(s.Args, Plain(unwritten(a)))
		}
		out = append(out, s)
	}
	return out
}

// unwritten is an argument without how it is written; shares are parts of one.
func unwritten(a any) any {
	switch a := a.(type) {
	case answers.Number:
		return a.Value
	case answers.Percent:
		return a.Value
	case answers.Figure:
		return float64(a)
	case answers.Short:
		return float64(a)
	case answers.Part:
		return []any{Plain(a.Value), Plain(a.Low), Plain(a.High)}
	case answers.Names:
		return append([]string{}, a...)
	}
	return a
}

func listed(list []string) []string { return append([]string{}, list...) }

// CSV writes the tables one after the other, an empty line between them.
func (d Document) CSV(w io.Writer) error {
	for i, t := range d.Tables {
		if i > 0 {
			if _, err := io.WriteString(w, "\r\n"); err != nil {
				return err
			}
		}
		if err := t.CSV(w); err != nil {
			return err
		}
	}
	return nil
}

// joined keeps a per cent sign with its number.
func joined(words []string) []string {
	var out []string
	for _, word := range words {
		if last := len(out) - 1; last >= 0 && strings.HasPrefix(word, "%") {
			out[last] += " " + word
			continue
		}
		out = append(out, word)
	}
	return out
}
