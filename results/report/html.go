package report

import (
	"bytes"
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
	"maker": func() template.HTML { return maker },
}).Parse(pageText))

// maker tells a page of this package from all others.
const maker = `<meta name="generator" content="padjig quality">`

// IsPage reports whether a file that begins like this is a page that HTML wrote.
func IsPage(head []byte) bool { return bytes.Contains(head, []byte(maker)) }

// HTML writes the document as one page that needs nothing from elsewhere.
func (d Document) HTML(w io.Writer) error { return page.Execute(w, d) }
