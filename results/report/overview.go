package report

import (
	"fmt"
	"html/template"

	"padjig/results/answers/overview"
	"padjig/results/lines"
)

// Overview writes the figures to be seen first, every product with its yield, and what
// needs attention.
func Overview(o overview.Overview) Document {
	d := about(o.Selection, "What the line is doing", lines.Mixture{})
	products, days := YieldTable("products", []lines.Dimension{lines.ByProduct, lines.ByRevision},
		o.Products), YieldTable("days", []lines.Dimension{lines.ByDay}, o.Days)
	products.Title, days.Title = fmt.Sprintf("Products, %s intervals", confidenceOf(o.Selection)), "By day"
	d.Tables = []Table{FigureTable(o), products, days}
	d.Charts = []Chart{{Title: "First-pass yield", SVG: func() template.HTML { return yieldChart(o.Products, 0) }}}
	d.Conclusion = o.Conclusions
	return d
}

// FigureTable has the figures beside those of the time before.
func FigureTable(o overview.Overview) Table {
	t := Table{Name: "figures", Title: "At first sight", Columns: Columns("figure, count, of, share % .2, count_before, of_before, share_before % .2, p")}
	for _, f := range o.Figures {
		r := row{Word("figure." + f.Name), f.X, nil, f.Share, nil, nil, f.Was.Share, f.P}
		if f.N > 0 {
			r[2] = f.N
		}
		if f.Change != overview.Unknown {
			if r[4] = f.Was.X; f.Was.N > 0 {
				r[5] = f.Was.N
			}
		}
		t.Rows = append(t.Rows, r)
	}
	return t
}
