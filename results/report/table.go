package report

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"padjig/results/answers"
	"padjig/results/floor"
	"padjig/sequence/wording"
)

// Table is rows under named columns.
type Table struct {
	Name    string // for programs: lower case, no spaces
	Title   string // for people
	Columns []Column
	Rows    [][]any // string, int, float64, bool, time.Time, Estimate or nil for nothing
	Empty   string  // what to say when there is no row
	Quiet   bool    // for programs only: too long to read
	Most    int     // rows shown to people, 0 for all
}

// Column is one column of a table.
type Column struct {
	Name   string // for programs; its text in the catalogue is the head
	Unit   string // of numbers; "%" shows parts of one as per cent
	Digits int    // behind the point
	Minor  bool   // left out where a terminal is too narrow for all columns
}

// Columns are as a line names them: each by its name, the unit of its numbers, how
// many digits are behind the point, and whether it is minor: "key, mean ohm .2 minor".
func Columns(line string) (out []Column) {
	for text := range strings.SplitSeq(line, ",") {
		words := strings.Fields(text)
		c := Column{Name: words[0]}
		for _, word := range words[1:] {
			switch {
			case word == "minor":
				c.Minor = true
			case word[0] == '.':
				c.Digits, _ = strconv.Atoi(word[1:])
			default:
				c.Unit = word
			}
		}
		out = append(out, c)
	}
	return out
}

// row is what stands in one row, a cell for each column.
type row []any

// rows has a row for each of a list.
func rows[T any](list []T, of func(T) row) (out [][]any) {
	for _, one := range list {
		out = append(out, of(one))
	}
	return out
}

// What cells hold besides.
type (
	// Chance is a probability as a test gives it.
	Chance = answers.Chance
	// Estimate is a number with its interval.
	Estimate = answers.Estimate
	// Word is a text of the catalogue; for programs what stands after its last point.
	Word = answers.Word
	// Words are several, with commas between.
	Words []Word
)

// Head is what stands above a column for people: the text of its name, which
// may be another in this table than elsewhere.
func (t Table) Head(lang wording.Words, c Column) string {
	key := "col." + t.Name + "." + c.Name
	if !having(lang, key).Has(key) {
		key = "col." + c.Name
	}
	head := word(lang, key)
	if c.Unit != "" {
		head += " " + c.Unit
	}
	return head
}

// short is a head for a terminal, where long ones push columns out.
func (t Table) short(c Column) string {
	key := "short." + c.Name
	if !terminal.Has(key) {
		return t.Head(terminal, c)
	}
	head := terminal.Say(key)
	if c.Unit != "" {
		head += " " + c.Unit
	}
	return head
}

// texts gives a table as text, heads first.
func (t Table) texts() [][]string {
	heads := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		heads[i] = t.short(c)
	}
	out := [][]string{heads}
	for _, row := range t.Rows {
		texts := make([]string, len(row))
		for i, v := range row {
			texts[i] = t.Columns[i].Text(terminal, v)
		}
		out = append(out, texts)
	}
	return out
}

// timed reports whether a table says any time.
func (t Table) timed() bool {
	return slices.ContainsFunc(t.Rows, func(row []any) bool {
		return slices.ContainsFunc(row, func(v any) bool { _, is := v.(time.Time); return is })
	})
}

// By is the table with its times by the clock of a zone.
func (t Table) By(zone *time.Location) Table {
	rows := make([][]any, len(t.Rows))
	for i, row := range t.Rows {
		rows[i] = slices.Clone(row)
		for j, v := range row {
			switch v := v.(type) {
			case time.Time:
				rows[i][j] = v.In(zone)
			case answers.Sentence:
				rows[i][j] = v.By(zone)
			}
		}
	}
	t.Rows = rows
	return t
}

// Text writes a cell for people.
func (c Column) Text(lang wording.Words, v any) string {
	switch v := v.(type) {
	case nil:
		return "-"
	case string:
		return v
	case int:
		return strconv.Itoa(v)
	case bool:
		return word(lang, map[bool]string{true: "yes", false: "no"}[v])
	case time.Time:
		if v.IsZero() {
			return "-"
		}
		return v.Format(floor.MinuteForm)
	case float64:
		return c.number(lang, v)
	case Chance:
		if math.IsNaN(float64(v)) {
			return "-"
		}
		return Probability(lang, float64(v))
	case Word:
		return word(lang, string(v))
	case Words:
		said := make([]string, len(v))
		for i, w := range v {
			said[i] = word(lang, string(w))
		}
		return strings.Join(said, ", ")
	case answers.Sentence:
		return Say(lang, v)
	case Estimate:
		if math.IsNaN(v.Low) && math.IsNaN(v.High) {
			return c.number(lang, v.Value)
		}
		return Say(lang, answers.Say("interval.of", c.number(lang, v.Value), c.number(lang, v.Low), c.number(lang, v.High)))
	}
	return fmt.Sprint(v)
}

func (c Column) number(lang wording.Words, v float64) string {
	if c.Unit == "%" {
		v *= 100
	}
	if math.IsNaN(v) {
		return "-"
	}
	return Number(lang, c.Digits, v)
}

// left reports whether a column holds words.
func (t Table) left(column int) bool {
	for _, row := range t.Rows {
		switch row[column].(type) {
		case string, bool, time.Time, Word, Words, answers.Sentence:
			return true
		case nil:
			continue
		}
		return false
	}
	return false
}

// Text lays the table out for a terminal of so many columns. Where it does not
// fit, minor columns are left out and named below, then the widest column of words
// is cut, and in the end it becomes a list, one row after the other.
func (t Table) Text(wide int) string {
	var b strings.Builder
	if t.Title != "" {
		b.WriteString(wrapped("", t.Title, wide) + "\n")
	}
	if len(t.Rows) == 0 {
		b.WriteString("  " + t.Empty + "\n")
		return b.String()
	}
	more := 0
	if t.Most > 0 && len(t.Rows) > t.Most {
		more, t.Rows = len(t.Rows)-t.Most, t.Rows[:t.Most]
	}
	t, left := t.fitting(wide)
	texts := t.texts()
	widths, total := t.widths(texts)
	if total > wide && !t.narrowed(texts, widths, total-wide) {
		t.list(&b, texts)
	} else {
		for _, row := range texts {
			b.WriteString(t.line(row, widths) + "\n")
		}
	}
	if more > 0 {
		fmt.Fprintf(&b, "  and %d more: --json and --csv have them all\n", more)
	}
	if len(left) > 0 {
		b.WriteString(wrapped("  ", "in a wider terminal, --json and --csv also: "+strings.Join(left, ", "), wide) + "\n")
	}
	return b.String()
}

func (t Table) widths(texts [][]string) (widths []int, total int) {
	widths = make([]int, len(t.Columns))
	for i := range t.Columns {
		for _, row := range texts {
			widths[i] = max(widths[i], utf8.RuneCountInString(row[i]))
		}
		total += widths[i] + 2
	}
	return widths, total
}

// fitting leaves out minor columns from the right until the table fits.
func (t Table) fitting(wide int) (Table, []string) {
	var left []string
	for i := len(t.Columns) - 1; i >= 0; i-- {
		if _, total := t.widths(t.texts()); total <= wide {
			break
		}
		if t.Columns[i].Minor {
			left = append([]string{t.Head(terminal, t.Columns[i])}, left...)
			t = t.without(i)
		}
	}
	return t, left
}

func (t Table) without(column int) Table {
	out := t
	out.Columns = slices.Delete(slices.Clone(t.Columns), column, column+1)
	out.Rows = nil
	for _, row := range t.Rows {
		out.Rows = append(out.Rows, slices.Delete(slices.Clone(row), column, column+1))
	}
	return out
}

// narrowed takes what is too much off the widest column of words.
func (t Table) narrowed(texts [][]string, widths []int, much int) bool {
	at := 0
	for i := range widths {
		if t.left(i) && widths[i] > widths[at] || !t.left(at) {
			at = i
		}
	}
	if !t.left(at) || widths[at]-much < 16 {
		return false
	}
	widths[at] -= much
	for _, row := range texts {
		if r := []rune(row[at]); len(r) > widths[at] {
			row[at] = string(r[:widths[at]-1]) + "…"
		}
	}
	return true
}

func (t Table) line(row []string, widths []int) string {
	var b strings.Builder
	for i, text := range row {
		pad := strings.Repeat(" ", widths[i]-utf8.RuneCountInString(text))
		if t.left(i) {
			b.WriteString("  " + text + pad)
		} else {
			b.WriteString("  " + pad + text)
		}
	}
	return strings.TrimRight(b.String(), " ")
}

func (t Table) list(b *strings.Builder, texts [][]string) {
	wide := 0
	for _, head := range texts[0] {
		wide = max(wide, utf8.RuneCountInString(head))
	}
	for n, row := range texts[1:] {
		if n > 0 {
			b.WriteString("\n")
		}
		for i, text := range row {
			fmt.Fprintf(b, "  %-*s  %s\n", wide, texts[0][i], text)
		}
	}
}
