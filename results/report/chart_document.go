package report

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"padjig/results/answers"
	"padjig/results/answers/charts"
	"padjig/results/report/chart"
)

// Charted writes a control chart.
func Charted(c charts.Chart) Document {
	d := about(c.Selection, fmt.Sprintf("Control chart (%s) of %s", c.Kind, Charting(terminal, c)), c.Mixed)
	for i, p := range c.Panels {
		var marks []charts.Event
		if i == 0 {
			marks = c.Events
		}
		d.Charts = append(d.Charts, Chart{
			Title: word(terminal, "panel."+p.Code),
			Text:  func(wide int) string { return textPlot(p, marks, wide, ChartUnit(c), i == 0) },
			SVG:   func() template.HTML { return drawn(c, p, i, marks) },
		})
	}
	d.Tables = []Table{signalTable(c), PointTable(c), EventTable(c.Events)}
	d.Conclusion = c.Conclusions
	return d
}

// Charting is what a chart is about.
func Charting(lang string, c charts.Chart) string {
	if c.Kind.Counts() {
		what := word(lang, "panel."+string(c.Kind))
		if c.Finding != "" {
			what += fmt.Sprintf(" %q", c.Finding)
		}
		return what
	}
	return Measured(lang, c.Measure) + keysText(c.Keys)
}

func keysText(k answers.KeyChoice) string {
	switch {
	case len(k.Labels) > 0 && k.Line == "" && k.Group == "":
		return ", key " + strings.Join(k.Labels, " ")
	case k.Line != "":
		return ", line " + k.Line
	case k.Group != "":
		return ", group " + k.Group
	}
	return ""
}

// ChartUnit is the unit of the values.
func ChartUnit(c charts.Chart) string {
	switch {
	case c.Kind == charts.P:
		return "%"
	case c.Kind.Counts():
		return ""
	}
	return c.Measure.Unit()
}

func signalTable(c charts.Chart) Table {
	t := Table{Name: "signals", Title: "Points that signal", Empty: "none", Most: 20,
		Columns: Columns("chart minor, point, started, value" + numbersOf(c) + ", signals")}
	for _, p := range c.Panels {
		for _, q := range p.Points {
			if len(q.Signals) > 0 {
				t.Rows = append(t.Rows, row{Word("panel." + p.Code), q.Name, timeOf(q), q.Value, strings.Join(q.Signals, ", ")})
			}
		}
	}
	return t
}

// numbersOf is how the values of a chart are written in a column.
func numbersOf(c charts.Chart) string { return fmt.Sprintf(" %s .%d", ChartUnit(c), digits(c)) }

func timeOf(q charts.ChartPoint) any {
	if q.Start.IsZero() {
		return nil
	}
	return q.Start
}

// PointTable has a row for each point of each panel.
func PointTable(c charts.Chart) Table {
	n := numbersOf(c)
	t := Table{Name: "points", Title: "Points", Quiet: true, Columns: Columns("chart, point, first_run, last_run, started, n," +
		"value" + n + ", lcl" + n + ", cl" + n + ", ucl" + n + ", signals")}
	for _, p := range c.Panels {
		for _, q := range p.Points {
			t.Rows = append(t.Rows, row{Word("panel." + p.Code), q.Name, int(q.First), int(q.Last), timeOf(q), q.N, q.Value,
				q.Limits.Lower, q.Limits.Center, q.Limits.Upper, strings.Join(q.Signals, " ")})
		}
	}
	return t
}

// EventTable lists what happened between the points.
func EventTable(events []charts.Event) Table {
	return Table{Name: "events", Title: "What happened", Empty: "nothing that was recorded", Most: 15,
		Columns: Columns("mark, at, after_run, kind, what, jig"),
		Rows: rows(events, func(e charts.Event) row {
			return row{e.Mark, e.At, int(e.AfterRun), Word("event." + e.Kind), e.Text, e.Jig}
		})}
}

// digits is how many are worth showing of values on a chart.
func digits(c charts.Chart) int {
	width := math.Inf(1)
	for _, q := range c.Panels[0].Points {
		if w := q.Limits.Upper - q.Limits.Lower; w > 0 {
			width = min(width, w)
		}
	}
	if ChartUnit(c) == "%" {
		width *= 100
	}
	if math.IsInf(width, 1) {
		return 2
	}
	return max(0, min(5, 2-int(math.Floor(math.Log10(width)))))
}

func drawn(c charts.Chart, p charts.Panel, i int, marks []charts.Event) template.HTML {
	title := word(terminal, "panel."+p.Code)
	k := chart.Control{
		Frame: chart.Frame{ID: fmt.Sprintf("control%d", i), Title: title, Width: 760, Height: 280},
		Y:     chart.Axis{Label: ChartUnit(c)}, X: chart.Axis{Label: "in the order of the runs"}, LimitText: [3]string{"UCL", "CL", "LCL"},
		Points: ChartPoints(c, p, nil), Events: ChartEvents(marks),
	}
	k.Desc = k.Describe("A control chart of %d points, of which %d signal.")
	return k.SVG()
}

// ChartPoints are those of a panel to be drawn, shares in per cent, named by
// name or as they are.
func ChartPoints(c charts.Chart, p charts.Panel, name func(charts.ChartPoint) string) (out []chart.Point) {
	f := 1.0
	if ChartUnit(c) == "%" {
		f = 100
	}
	for _, q := range p.Points {
		point := chart.Point{Value: f * q.Value, Lower: f * q.Limits.Lower, Centre: f * q.Limits.Center,
			Upper: f * q.Limits.Upper, Name: q.Name, Tip: q.Name}
		if name != nil {
			point.Name = name(q)
		}
		if len(q.Signals) > 0 {
			point.Signal = 1
		}
		out = append(out, point)
	}
	return out
}

// ChartEvents are the marks of a chart to be drawn.
func ChartEvents(events []charts.Event) (out []chart.Event) {
	for _, e := range events {
		out = append(out, chart.Event{Before: e.Before, Mark: e.Mark, Tip: e.Text})
	}
	return out
}

// PanelText is what a panel shows.
func PanelText(lang string, p charts.Panel) string { return word(lang, "panel."+p.Code) }
