package web

import (
	"encoding/json"
	"math"
	"strconv"
	"strings"

	"padjig/results/report"
)

// table is numbers in rows: on the page in the reader's language, as JSON and
// CSV with plain values under the names of the columns.
type table struct {
	Name    string // of the file, a word
	Caption string
	Columns []column
	Rows    [][]cell
	// Open shows the table at once; others are a click away under their chart.
	Open bool
}

// column is what a table tells of each row.
type column struct {
	Name string // in files
	Head string // on the page
	Num  bool
}

// cell is one entry: as text on the page, and the value it stands for.
type cell struct {
	Text  string
	Value any
	Link  string
	Mark  bool // stands out
	Lang  string
}

// MarshalJSON gives each row as an object.
func (t table) MarshalJSON() ([]byte, error) {
	rows := make([]map[string]any, len(t.Rows))
	for i, row := range t.Rows {
		rows[i] = map[string]any{}
		for j, c := range row {
			rows[i][t.Columns[j].Name] = plain(c.Value)
		}
	}
	return json.Marshal(map[string]any{"name": t.Name, "caption": t.Caption, "rows": rows})
}

// plain turns what JSON has no number for into null.
func plain(v any) any {
	if f, ok := v.(float64); ok && (math.IsNaN(f) || math.IsInf(f, 0)) {
		return nil
	}
	return v
}

// tableOf is a table of an answer on the page: the same columns and values, in
// the reader's language.
func (v *visit) tableOf(t report.Table, caption string) *table {
	out := table{Name: t.Name, Caption: caption}
	t = t.Spread()
	for i, c := range t.Columns {
		out.Columns = append(out.Columns, column{c.Name, v.head(t, i), c.Name != "" && !wordsIn(t, i)})
	}
	for _, row := range t.Rows {
		cells := make([]cell, len(row))
		for i, value := range row {
			cells[i] = cell{Text: t.Columns[i].Text(v.Lang, value), Value: report.Plain(value)}
			if _, isText := value.(string); isText && v.Lang != "en" && proseColumns[t.Columns[i].Name] {
				cells[i].Lang = "en" // as it is on record
			}
		}
		out.Rows = append(out.Rows, cells)
	}
	return &out
}

// proseColumns hold text of the records, which is English.
var proseColumns = map[string]bool{"cause": true, "place": true, "what": true, "why": true, "why_not": true, "reason": true}

// head names a column; the ends of an interval are only those.
func (v *visit) head(t report.Table, i int) string {
	name := t.Columns[i].Name
	for _, end := range []string{"low", "high"} {
		if base, is := strings.CutSuffix(name, "_"+end); is && i > 0 && strings.HasPrefix(t.Columns[i-1].Name, base) {
			return v.say("col." + end)
		}
	}
	return t.Head(v.Lang, t.Columns[i])
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

// Cells of tables.

func plainWords(text string) cell { return cell{Text: text, Value: text} }

func (v *visit) count(n int) cell { return cell{Text: v.whole(n), Value: n} }

// whole writes a count with narrow spaces between thousands.
func (v *visit) whole(n int) string { return report.Whole(n) }

// value writes a number with so many digits, a dash for none.
func (v *visit) value(digits int, x float64) cell { return cell{Text: v.num(digits, x), Value: x} }

func (v *visit) num(digits int, x float64) string { return report.Number(v.Lang, digits, x) }

// near writes a value with about four digits that mean something.
func (v *visit) near(x float64) cell { return v.value(report.DigitsFor(x), x) }

// parseNumber reads a number with a comma or a point before its decimals.
func parseNumber(text string) (float64, error) {
	return strconv.ParseFloat(strings.Replace(strings.TrimSpace(text), ",", ".", 1), 64)
}
