package report

import (
	"fmt"
	"html/template"
	"math"
	"strings"
	"time"

	"padjig/results/answers"
	"padjig/results/answers/charts"
	"padjig/results/report/chart"
	"padjig/sequence/wording"
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
			SVG:   func() template.HTML { return drawn(c, i) },
		})
	}
	d.Tables = []Table{signalTable(c), PointTable(c), EventTable(c.Events)}
	d.Conclusion = c.Conclusions
	return d
}

// Charting is what a chart is about.
func Charting(lang wording.Words, c charts.Chart) string {
	if c.Kind.Counts() {
		what := word(lang, "panel."+string(c.Kind))
		if c.Finding != "" {
			what += fmt.Sprintf(" %q", c.Finding)
		}
		return what
	}
	return Measured(lang, c.Measure) + keysText(lang, c.Keys)
}

func keysText(lang wording.Words, k answers.KeyChoice) string {
	switch {
	case len(k.Labels) > 0 && k.Line == "" && k.Group == "":
		return Say(lang, answers.Say("charting.key", strings.Join(k.Labels, " ")))
	case k.Line != "":
		return Say(lang, answers.Say("charting.line", k.Line))
	case k.Group != "":
		return Say(lang, answers.Say("charting.group", k.Group))
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
			return row{e.Mark, e.At, int(e.AfterRun), Word("event." + e.Kind), happened(e.Event), e.Jig}
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

func drawn(c charts.Chart, i int) template.HTML {
	panels := ControlCharts(terminal, c)
	k := panels[i]
	k.Frame = chart.Frame{ID: fmt.Sprintf("control%d", i), Title: PanelText(terminal, c.Panels[i]), Width: 760, Height: 280}
	k.X = chart.Axis{Label: "in the order of the runs"}
	k.Desc = k.Describe("A control chart of %d points, of which %d signal.")
	return k.SVG()
}

// ControlCharts are the panels of a chart to be drawn, one above the other: a surface adds
// its frame and what runs below them.
func ControlCharts(lang wording.Words, c charts.Chart) (out []chart.Control) {
	for i, p := range c.Panels {
		k := chart.Control{Y: chart.Axis{Label: ChartUnit(c)}, Zones: p.Zones, Baseline: c.Base, Points: chartPoints(lang, c, p)}
		if i == 0 {
			k.Events, k.Spec = ChartEvents(lang, c.Events), chartSpec(lang, c, p)
		}
		if n := len(k.Points); n > 0 {
			last := k.Points[n-1]
			d := DigitsFor(last.Upper - last.Lower)
			for i, v := range []float64{last.Upper, last.Centre, last.Lower} {
				k.LimitText[i] = word(lang, []string{"col.ucl", "col.cl", "col.lcl"}[i]) + " " + Number(lang, d, v)
			}
		}
		out = append(out, k)
	}
	return out
}

// chartSpec are the limits of the product. A mean has none of its own: they are said to be
// those of single readings.
func chartSpec(lang wording.Words, c charts.Chart, p charts.Panel) (out []chart.Named) {
	single := map[string]string{"means": ".single", "single": "", "ewma": ".single"}
	of, is := single[p.Code]
	for i, code := range []string{"chart.lsl", "chart.usl"} {
		if v := c.Limits[i]; is && v > 0 {
			out = append(out, chart.Named{Value: v, Text: Say(lang, answers.Say(code+of, strings.TrimSpace(Limit(lang, v)+" "+ChartUnit(c))))})
		}
	}
	return out
}

// chartPoints are those of a panel to be drawn, shares in per cent. A panel that begins
// later than the first one has gaps there, so that what belongs together stands above
// each other.
func chartPoints(lang wording.Words, c charts.Chart, p charts.Panel) (out []chart.Point) {
	f, nan := 1.0, math.NaN()
	if ChartUnit(c) == "%" {
		f = 100
	}
	all := c.Panels[0].Points
	for range len(all) - len(p.Points) {
		out = append(out, chart.Point{Value: nan, Lower: nan, Centre: nan, Upper: nan})
	}
	for _, q := range p.Points {
		point := chart.Point{Value: f * q.Value, Lower: f * q.Limits.Lower, Centre: f * q.Limits.Center,
			Upper: f * q.Limits.Upper, Tip: pointTip(lang, c, q), Runs: [2]int64{q.First, q.Last}}
		if len(q.Signals) > 0 {
			point.Signal = 1
		}
		out = append(out, point)
	}
	for i, q := range all {
		out[i].Name = pointName(c, q)
		if i == 0 || q.Start.IsZero() {
			continue
		}
		out[i].Apart = idle(c, all[i-1].Start, q.Start)
		if day := q.Start.Format("01-02"); day != all[i-1].Start.Format("01-02") {
			out[i].Day = day
		}
	}
	return out
}

// pointName stands below a point.
func pointName(c charts.Chart, q charts.ChartPoint) string {
	if !q.Start.IsZero() && (c.Kind.Subgroups() && c.Subgroup == charts.ByUnits || c.Kind.Counts()) {
		return q.Start.Format("01-02 15:04")
	}
	return q.Name
}

// idle reports whether nothing was tested between two points: an hour where a point is
// an hour, else a whole day.
func idle(c charts.Chart, before, at time.Time) bool {
	if c.Subgroup == charts.ByHour && (c.Kind.Subgroups() || c.Kind.Counts()) {
		return at.Truncate(time.Hour).Sub(before.Truncate(time.Hour)) > time.Hour
	}
	year, month, day := before.Date()
	return !at.Before(time.Date(year, month, day+2, 0, 0, 0, 0, before.Location()))
}

// pointTip says what a point is: the same numbers as its row in the table.
func pointTip(lang wording.Words, c charts.Chart, q charts.ChartPoint) string {
	of := Columns("value" + numbersOf(c))[0]
	text := func(v float64) string { return strings.TrimSpace(of.Text(lang, v) + " " + ChartUnit(c)) }
	lines := []string{q.Name, text(q.Value) + ", n " + Whole(q.N)}
	var limits []string
	for i, v := range []float64{q.Limits.Lower, q.Limits.Center, q.Limits.Upper} {
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			limits = append(limits, word(lang, []string{"col.lcl", "col.cl", "col.ucl"}[i])+" "+of.Text(lang, v))
		}
	}
	lines = append(lines, strings.Join(limits, ", "))
	if !q.Start.IsZero() {
		lines = append(lines, Column{}.Text(lang, q.Start))
	}
	if len(q.Signals) > 0 {
		lines = append(lines, strings.Join(q.Signals, ", "))
	}
	return strings.Join(lines, "\n")
}

// ChartEvents are the marks of a chart to be drawn.
func ChartEvents(lang wording.Words, events []charts.Event) (out []chart.Event) {
	for _, e := range events {
		out = append(out, chart.Event{Before: e.Before, Mark: e.Mark, Tip: Column{}.Text(lang, happened(e.Event))})
	}
	return out
}

// PanelText is what a panel shows.
func PanelText(lang wording.Words, p charts.Panel) string { return word(lang, "panel."+p.Code) }
