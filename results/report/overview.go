package report

import (
	"fmt"
	"html/template"

	"padjig/results"
	"padjig/results/answers"
)

// Overview writes every product with its yield, and what needs attention.
func Overview(o answers.Overview) Document {
	d := about(o.Selection, "What the line is doing", results.Mixture{})
	products, days := YieldTable("products", []results.By{results.ByProduct, results.ByRevision},
		o.Products), YieldTable("days", []results.By{results.ByDay}, o.Days)
	products.Title, days.Title = fmt.Sprintf("Products, %s intervals", confidenceOf(o.Selection)), "By day (UTC)"
	d.Tables = []Table{products, days}
	d.Charts = []Chart{{Title: "First-pass yield", SVG: func() template.HTML { return yieldChart(o.Products) }}}
	d.Conclusion = o.Conclusions
	return d
}
