package web

import (
	"encoding/json"
	"math"
	"strconv"
	"strings"
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

// Cells of tables.

func plainWords(text string) cell { return cell{Text: text, Value: text} }

func (v *visit) count(n int) cell { return cell{Text: v.whole(n), Value: n} }

// whole writes a count with narrow spaces between thousands.
func (v *visit) whole(n int) string {
	text := strconv.Itoa(n)
	for i := len(text) - 3; i > 0 && n >= 10000; i -= 3 {
		text = text[:i] + "\u202f" + text[i:]
	}
	return text
}

// value writes a number with so many digits, a dash for none.
func (v *visit) value(digits int, x float64) cell { return cell{Text: v.num(digits, x), Value: x} }

func (v *visit) num(digits int, x float64) string {
	switch {
	case math.IsNaN(x):
		return "–"
	case math.IsInf(x, 1):
		return "∞"
	case math.IsInf(x, -1):
		return "−∞"
	}
	return number(v.Lang, digits, x)
}

// share writes a part of 1 in per cent; the value in files is per cent too.
func (v *visit) share(digits int, x float64) cell {
	return cell{Text: v.num(digits, 100*x), Value: 100 * x}
}

// chance writes a p-value: small ones as below a thousandth.
func (v *visit) chance(p float64) cell {
	if p < 0.001 {
		return cell{Text: "< " + v.num(3, 0.001), Value: p}
	}
	return v.value(3, p)
}

// near writes a value with about four digits that mean something.
func (v *visit) near(x float64) cell { return v.value(digitsFor(x), x) }

func digitsFor(x float64) int {
	switch a := math.Abs(x); {
	case a >= 1000 || a == 0:
		return 0
	case a >= 100:
		return 1
	case a >= 10:
		return 2
	default:
		return 3
	}
}

// parseNumber reads a number with a comma or a point before its decimals.
func parseNumber(text string) (float64, error) {
	return strconv.ParseFloat(strings.Replace(strings.TrimSpace(text), ",", ".", 1), 64)
}
