package report

import (
	"encoding/csv"
	"encoding/json"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"padjig/results/answers"
)

// Spread gives the table with an estimate's value and its ends in columns of
// their own, as programs and pages have it.
func (t Table) Spread() Table {
	out := t
	out.Columns, out.Rows = nil, make([][]any, len(t.Rows))
	for i, c := range t.Columns {
		out.Columns = append(out.Columns, c)
		if !t.estimates(i) {
			for n, row := range t.Rows {
				out.Rows[n] = append(out.Rows[n], row[i])
			}
			continue
		}
		low, high := c, c
		low.Name, high.Name = c.Name+"_low", c.Name+"_high"
		out.Columns = append(out.Columns, low, high)
		for n, row := range t.Rows {
			if e, is := row[i].(Estimate); is {
				out.Rows[n] = append(out.Rows[n], e.Value, e.Low, e.High)
			} else {
				out.Rows[n] = append(out.Rows[n], row[i], nil, nil)
			}
		}
	}
	return out
}

func (t Table) estimates(column int) bool {
	return slices.ContainsFunc(t.Rows, func(row []any) bool { _, is := row[column].(Estimate); return is })
}

// Plain takes away what JSON has no word for: infinite and undefined numbers are
// nothing, so is a time that was never set; times are text in UTC, words are codes.
func Plain(v any) any {
	switch v := v.(type) {
	case float64:
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil
		}
	case Chance:
		return Plain(float64(v))
	case Word:
		return string(v[strings.LastIndex(string(v), ".")+1:])
	case Words:
		codes := make([]string, len(v))
		for i, w := range v {
			codes[i] = Plain(w).(string)
		}
		return strings.Join(codes, ", ")
	case answers.Sentence:
		return Say(terminal, v)
	case time.Time:
		if v.IsZero() {
			return nil
		}
		return v.UTC().Format("2006-01-02T15:04:05.999999Z")
	}
	return v
}

// CSV writes the table after RFC 4180, heads first, lines ended by CR LF.
// Numbers are plain, times UTC, shares parts of one. Text that a spreadsheet
// would take for a formula gets an apostrophe in front.
func (t Table) CSV(w io.Writer) error {
	c := csv.NewWriter(w)
	c.UseCRLF = true
	t = t.Spread()
	var names []string
	for _, column := range t.Columns {
		names = append(names, column.Name)
	}
	if err := c.Write(names); err != nil {
		return err
	}
	for _, row := range t.Rows {
		var texts []string
		for _, v := range row {
			texts = append(texts, field(Plain(v)))
		}
		if err := c.Write(texts); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

func field(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case string:
		return guarded(v)
	case float64:
		return strconv.FormatFloat(v, 'g', -1, 64)
	case int:
		return strconv.Itoa(v)
	case int32:
		return strconv.FormatInt(int64(v), 10)
	case int64:
		return strconv.FormatInt(v, 10)
	case bool:
		return strconv.FormatBool(v)
	}
	return ""
}

// guarded keeps a spreadsheet from running text as a formula (CWE-1236).
func guarded(text string) string {
	if text != "" && strings.ContainsRune("=+-@\t\r\n", rune(text[0])) {
		return "'" + text
	}
	return text
}

// MarshalJSON gives the table as a list of objects.
func (t Table) MarshalJSON() ([]byte, error) {
	t = t.Spread()
	rows := []map[string]any{}
	for _, row := range t.Rows {
		object := map[string]any{}
		for i, v := range row {
			object[t.Columns[i].Name] = Plain(v)
		}
		rows = append(rows, object)
	}
	return json.Marshal(rows)
}
