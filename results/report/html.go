package report

import (
	_ "embed"
	"html/template"
	"io"

	"padjig/results/report/chart"
)

//go:embed page.html
var pageText string

//go:embed page.css
var pageStyle string

var page = template.Must(template.New("page").Funcs(template.FuncMap{
	"style": func() template.CSS { return template.CSS(pageStyle + chart.Style) },
	"texts": Table.texts,
	"left":  Table.left,
}).Parse(pageText))

// HTML writes the document as one page that needs nothing from elsewhere.
func (d Document) HTML(w io.Writer) error { return page.Execute(w, d) }
