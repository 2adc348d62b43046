package web

import (
	"bytes"
	"fmt"
	"mime"
	"net/http"

	"padjig/results/report"
)

// tabled is a view whose numbers can be had as files.
type tabled interface{ tables() []table }

// sendFile answers with a view that is a file itself, or with one table of a
// page as CSV when the address asks for one; it reports whether it has answered.
func (v *visit) sendFile(view any) bool {
	if d, is := view.(document); is {
		v.sendDocument(d)
		return true
	}
	name := v.r.FormValue("csv")
	of, has := view.(tabled)
	if name == "" || !has {
		return false
	}
	for _, t := range of.tables() {
		if t.Name == name {
			v.sendCSV(t)
			return true
		}
	}
	v.fail(http.StatusNotFound, v.say("error.nowhere"))
	return true
}

// sendCSV writes a table as package report writes files: RFC 4180, and nothing
// in it that a spreadsheet would run. It is whole before the first byte goes out.
func (v *visit) sendCSV(t table) {
	var out bytes.Buffer
	if err := t.file().CSV(&out); err != nil {
		v.failed(fmt.Errorf("write the table as a file: %w", err))
		return
	}
	h := v.w.Header()
	h.Set("Content-Type", "text/csv; charset=utf-8; header=present")
	h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": "padjig-" + t.Name + ".csv"}))
	_, _ = out.WriteTo(v.w) // an error means that nobody listens any more
}

// file is the table as package report has it.
func (t table) file() report.Table {
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
