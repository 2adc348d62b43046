package report

import (
	"fmt"
	"html/template"

	"padjig/results/answers"
	"padjig/results/lines"
)

// Overview writes every product with its yield, and what needs attention.
func Overview(o answers.Overview) Document {
	d := about(o.Selection, "What the line is doing", lines.Mixture{})
	products, days := YieldTable("products", []lines.Dimension{lines.ByProduct, lines.ByRevision},
		o.Products), YieldTable("days", []lines.Dimension{lines.ByDay}, o.Days)
	products.Title, days.Title = fmt.Sprintf("Products, %s intervals", confidenceOf(o.Selection)), fmt.Sprintf("By day (%s)", o.Filter.Clock())
	d.Tables = []Table{products, days}
	d.Charts = []Chart{{Title: "First-pass yield", SVG: func() template.HTML { return yieldChart(o.Products) }}}
	d.Conclusion = o.Conclusions
	return d
}
