package quality

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"padjig/cmd/padjig/web/page"
)

// Tables are sorted by the address: sort=NAME.2 is the third column of a table, with - in
// front the other way round. A script does the same where the table stands.
const sortParam = "sort"

// order is how a table of a page is sorted.
type order struct {
	table  string
	column int
	down   bool
}

// ordered is what the address says of the order.
func (s asking) ordered() (o order, is bool) {
	text, down := strings.CutPrefix(s.form.Get(sortParam), "-")
	table, column, _ := strings.Cut(text, ".")
	n, err := strconv.Atoi(column)
	return order{table, n, down}, err == nil && table != ""
}

// sorted puts a figure's table into the order that the address asks for, and gives each
// of its columns an address that sorts by it.
func (s *study) sorted(f *figure) {
	o, is := s.ordered()
	is = is && o.table == f.Table.Name && o.column >= 0 && o.column < len(f.Table.Columns)
	if is {
		f.order = &o
		slices.SortStableFunc(f.Table.Rows, func(a, b []page.Cell) int { return o.compare(a[o.column], b[o.column], f.Table.Columns[o.column].Num) })
	}
	for i := range f.Table.Columns {
		by := fmt.Sprintf("%s.%d", f.Table.Name, i)
		if is && o.column == i && !o.down {
			by = "-" + by
		}
		own := s.own()
		own[sortParam] = []string{by}
		f.sorts = append(f.sorts, s.link(s.Plain, own)+"#t-"+url.PathEscape(f.Table.Name))
	}
}

// compare puts what has no number last, whichever way round.
func (o order) compare(a, b page.Cell, numbers bool) int {
	c := strings.Compare(a.Text, b.Text)
	if numbers {
		x, y := number(a), number(b)
		if math.IsNaN(x) || math.IsNaN(y) {
			return cmp.Compare(bit(math.IsNaN(x)), bit(math.IsNaN(y)))
		}
		c = cmp.Compare(x, y)
	}
	if o.down {
		return -c
	}
	return c
}

// number is what a cell stands for; NaN for nothing.
func number(c page.Cell) float64 {
	switch v := c.Value.(type) {
	case int:
		return float64(v)
	case float64:
		return v
	}
	return math.NaN()
}

// Sort is the address of the page sorted by a column.
func (f figure) Sort(column int) string { return f.sorts[column] }

// Sorted says how the table is sorted by a column, nothing where it is not.
func (f figure) Sorted(column int) string {
	switch {
	case f.order == nil || f.order.column != column:
		return ""
	case f.order.down:
		return "descending"
	}
	return "ascending"
}

// Body is the rows of the table. There may be thousands of cells: a template takes longer for them than the whole answer.
func (f figure) Body() template.HTML {
	var out strings.Builder
	for _, row := range f.Table.Rows {
		out.WriteString("<tr>")
		for j, c := range row {
			out.WriteString("<td")
			var classes []string
			if f.Table.Columns[j].Num {
				classes = append(classes, "num")
			}
			if c.Mark {
				classes = append(classes, "marked")
			}
			attribute(&out, "class", strings.Join(classes, " "))
			if f.Table.Columns[j].Num {
				out.WriteString(` data-v="` + key(c) + `"`)
			}
			attribute(&out, "lang", c.Lang)
			out.WriteString(">")
			text := template.HTMLEscapeString(c.Text)
			if strings.HasPrefix(c.Link, "/") && !strings.HasPrefix(c.Link, "//") { // a page of ours
				out.WriteString("<a")
				attribute(&out, "href", c.Link)
				text = ">" + text + "</a>"
			}
			out.WriteString(text + "</td>")
		}
		out.WriteString("</tr>")
	}
	return template.HTML(out.String())
}

// attribute writes one that says something.
func attribute(out *strings.Builder, name, value string) {
	if value != "" {
		out.WriteString(" " + name + `="` + template.HTMLEscapeString(value) + `"`)
	}
}

// key is what a cell of numbers is sorted by.
func key(c page.Cell) string {
	if v := number(c); !math.IsNaN(v) {
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	return ""
}
