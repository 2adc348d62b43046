package report

import (
	"encoding/csv"
	"encoding/json"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
)

// spread gives the columns as programs see them: an estimate takes three.
func (t Table) spread() []string {
	var names []string
	for i, c := range t.Columns {
		names = append(names, c.Name)
		if t.estimates(i) {
			names = append(names, c.Name+"_low", c.Name+"_high")
		}
	}
	return names
}

func (t Table) estimates(column int) bool {
	for _, row := range t.Rows {
		if _, ok := row[column].(Estimate); ok {
			return true
		}
	}
	return false
}

// values gives a row as programs see it.
func (t Table) values(row []any) []any {
	var out []any
	for i, v := range row {
		e, is := v.(Estimate)
		switch {
		case is:
			out = append(out, plain(e.Value), plain(e.Low), plain(e.High))
		case t.estimates(i):
			out = append(out, plain(v), nil, nil)
		default:
			out = append(out, plain(v))
		}
	}
	return out
}

// plain takes away what JSON has no word for: infinite and undefined numbers are
// nothing, times are text in UTC.
func plain(v any) any {
	switch v := v.(type) {
	case float64:
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil
		}
	case Chance:
		return float64(v)
	case time.Time:
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
	if err := c.Write(t.spread()); err != nil {
		return err
	}
	for _, row := range t.Rows {
		var texts []string
		for _, v := range t.values(row) {
			texts = append(texts, field(v))
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
	names, rows := t.spread(), []map[string]any{}
	for _, row := range t.Rows {
		object := map[string]any{}
		for i, v := range t.values(row) {
			object[names[i]] = v
		}
		rows = append(rows, object)
	}
	return json.Marshal(rows)
}
