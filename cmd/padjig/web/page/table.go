package page

import (
	"cmp"
	"encoding/json"
	"math"
	"strconv"
	"strings"

	"padjig/results/report"
	"padjig/sequence/wording"
)

// Table is numbers in rows: on the page in the reader's language, as JSON and
// CSV with plain values under the names of the columns.
type Table struct {
	Name    string // of the file, a word
	Caption string
	Columns []Column
	Rows    [][]Cell
	// Open shows the table at once; others are a click away under their chart.
	Open bool
}

// Column is what a table tells of each row.
type Column struct {
	Name string // in files
	Head string // on the page
	Num  bool
}

// Col is a column of words.
func Col(name, head string) Column { return Column{name, head, false} }

// NumCol is a column of numbers.
func NumCol(name, head string) Column { return Column{name, head, true} }

// Cell is one entry: as text on the page, and the value it stands for.
type Cell struct {
	Text  string
	Value any
	Link  string
	Mark  bool // stands out
	Lang  string
}

// MarshalJSON gives each row as an object.
func (t Table) MarshalJSON() ([]byte, error) {
	rows := make([]map[string]any, len(t.Rows))
	for i, row := range t.Rows {
		rows[i] = map[string]any{}
		for j, c := range row {
			rows[i][t.Columns[j].Name] = finite(c.Value)
		}
	}
	return json.Marshal(map[string]any{"name": t.Name, "caption": t.Caption, "rows": rows})
}

// finite turns what JSON has no number for into null.
func finite(v any) any {
	if f, ok := v.(float64); ok && (math.IsNaN(f) || math.IsInf(f, 0)) {
		return nil
	}
	return v
}

// TableOf is a table of an answer on the page: the same columns and values, in
// the reader's language.
func (w Words) TableOf(t report.Table, caption string) *Table {
	out := Table{Name: t.Name, Caption: caption}
	t = t.Spread().By(w.Zone())
	for i, c := range t.Columns {
		out.Columns = append(out.Columns, Column{c.Name, w.head(t, i), c.Name != "" && !wordsIn(t, i)})
	}
	for _, row := range t.Rows {
		cells := make([]Cell, len(row))
		for i, value := range row {
			cells[i] = Cell{Text: t.Columns[i].Text(w.Lang, value), Value: report.Plain(value)}
			if text, isText := value.(string); isText && w.Lang.Tag != wording.First && proseColumns[t.Columns[i].Name] {
				if cells[i].Text = wording.Recorded(w.Lang, text); cells[i].Text == text {
					cells[i].Lang = wording.First // as it is on record
				}
			}
		}
		out.Rows = append(out.Rows, cells)
	}
	return &out
}

// proseColumns hold text of the records, which is English.
var proseColumns = map[string]bool{"cause": true, "place": true, "what": true, "why": true, "why_not": true, "reason": true}

// head names a column; the ends of an interval are only those.
func (w Words) head(t report.Table, i int) string {
	name := t.Columns[i].Name
	for _, end := range []string{"low", "high"} {
		if base, is := strings.CutSuffix(name, "_"+end); is && i > 0 && strings.HasPrefix(t.Columns[i-1].Name, base) {
			return w.Say("col." + end)
		}
	}
	return t.Head(w.Lang, t.Columns[i])
}

// wordsIn reports whether a column holds words.
func wordsIn(t report.Table, column int) bool {
	for _, row := range t.Rows {
		switch row[column].(type) {
		case nil:
			continue
		case int, float64, report.Chance, report.Estimate:
			return false
		}
		return true
	}
	return false
}

// Plain is a cell of words that are their own value.
func Plain(text string) Cell { return Cell{Text: text, Value: text} }

// Count is a cell of a count.
func Count(n int) Cell { return Cell{Text: report.Whole(n), Value: n} }

// NearCell is a cell of a value with about four digits that mean something.
func (w Words) NearCell(x float64) Cell { return Cell{Text: w.Near(x), Value: x} }

// OrNone is a limit of 0, which means none.
func OrNone(limit float64) float64 { return cmp.Or(limit, math.NaN()) }

// File is the table as package report has it.
func (t Table) File() report.Table {
	out := report.Table{Name: t.Name, Title: t.Caption}
	for _, c := range t.Columns {
		out.Columns = append(out.Columns, report.Column{Name: c.Name})
	}
	for _, row := range t.Rows {
		values := make([]any, len(row))
		for i, c := range row {
			values[i] = c.Value
		}
		out.Rows = append(out.Rows, values)
	}
	return out
}

// ParseNumber reads a number with a comma or a point before its decimals.
func ParseNumber(text string) (float64, error) {
	return strconv.ParseFloat(strings.Replace(strings.TrimSpace(text), ",", ".", 1), 64)
}

// Tabled is a view whose numbers can be had as files.
type Tabled interface{ Tables() []Table }

// Option is what can be chosen for a field of a form.
type Option struct {
	Value, Text string
	Chosen      bool
}

// Entry is a page in a menu.
type Entry struct {
	Path, Text string
	Here       bool
}
