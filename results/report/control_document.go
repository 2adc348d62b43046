package report

import (
	"errors"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"padjig/results"
	"padjig/results/report/chart"
	"padjig/results/stats"
)

// Charted reports a control chart.
func Charted(c Control) (Document, error) {
	plots, err := c.plots()
	if err != nil {
		return Document{}, fmt.Errorf("%s: %w", c.What, err)
	}
	alarms, err := c.alarmWords()
	if err != nil {
		return Document{}, err
	}
	d := c.document(fmt.Sprintf("Control chart (%s) of %s", c.Kind, c.What), results.Mixture{})
	d.Remarks = append(d.Remarks, c.limitWords())
	marks := c.marks(plots[0])
	for i, p := range plots {
		d.Charts = append(d.Charts, Chart{
			Title: p.title,
			Text:  func(wide int) string { return textPlot(p, marks, wide, c.Unit, i == 0) },
			SVG:   func() template.HTML { return c.drawn(p, i, marks) },
		})
	}
	d.Tables = []Table{signals(plots, c.Unit), pointTable(plots, c.Unit), eventTable(marks)}
	d.Conclusion = []string{c.words(plots), alarms}
	return d, nil
}

func (c Control) limitWords() string {
	if c.Frozen == nil {
		return "no limits are frozen for this chart: they come from these points themselves, so a change that goes on all the time widens them; freeze them with --freeze over a time that was in order"
	}
	b := c.Frozen
	return fmt.Sprintf("limits frozen by %s on %s from %d points (%s)", b.By, b.At.Local().Format("2006-01-02"), b.Points, b.Reason)
}

func (c Control) words(plots []plot) string {
	flagged, total := 0, 0
	for _, p := range plots {
		for _, q := range p.points {
			total++
			if len(q.flags) > 0 {
				flagged++
			}
		}
	}
	if flagged == 0 {
		return fmt.Sprintf("None of %d points signals anything. That does not show that nothing changed, only that no change stood out from chance.", total)
	}
	return fmt.Sprintf("%d of %d points signal something. A signal says that the process probably changed there, not what changed: look at what happened just before it.", flagged, total)
}

// mark is happenings that share a place on the chart.
type mark struct {
	letter string
	before int // index of the first point after it
	results.Happening
}

// marks letters what happened between the first and the last point; the same on
// several jigs is one.
func (c Control) marks(p plot) []mark {
	var out []mark
	for _, h := range c.Happened {
		before := slices.IndexFunc(p.points, func(q plotted) bool { return q.First > h.AfterRun })
		if before <= 0 {
			continue
		}
		at := slices.IndexFunc(out, func(m mark) bool { return m.Kind == h.Kind && m.Text == h.Text && m.before == before })
		if at >= 0 {
			out[at].Jig += ", " + h.Jig
			continue
		}
		out = append(out, mark{before: before, Happening: h})
	}
	for i := range out {
		out[i].letter = letter(i)
	}
	return out
}

func letter(i int) string {
	if i < 26 {
		return string(rune('a' + i))
	}
	return letter(i/26-1) + string(rune('a'+i%26))
}

func signals(plots []plot, unit string) Table {
	t := Table{Name: "signals", Title: "Points that signal", Empty: "none",
		Columns: []Column{{Name: "chart", Head: "chart", Minor: true}, {Name: "point", Head: "point"}, {Name: "started", Head: "from"}, {Name: "value", Head: "value", Unit: unit, Digits: digits(plots[0])},
			{Name: "rules", Head: "why"}}}
	for _, p := range plots {
		for _, q := range p.points {
			if len(q.flags) > 0 {
				t.Rows = append(t.Rows, []any{p.title, q.Name, q.Start, q.value, strings.Join(q.flags, ", ")})
			}
		}
	}
	t.Most = 20
	return t
}

func pointTable(plots []plot, unit string) Table {
	t := Table{Name: "points", Title: "Points", Quiet: true,
		Columns: []Column{{Name: "chart", Head: "chart"}, {Name: "point", Head: "point"}, {Name: "first_run", Head: "first run"}, {Name: "last_run", Head: "last run"},
			{Name: "started", Head: "from"}, {Name: "n", Head: "n"}, {Name: "value", Head: "value", Unit: unit, Digits: 4}, {Name: "lower", Head: "lower", Digits: 4},
			{Name: "centre", Head: "centre", Digits: 4}, {Name: "upper", Head: "upper", Digits: 4}, {Name: "rules", Head: "signals"}}}
	for _, p := range plots {
		for _, q := range p.points {
			n := len(q.Values)
			if n == 0 {
				n = int(q.Size)
			}
			t.Rows = append(t.Rows, []any{p.title, q.Name, int(q.First), int(q.Last), q.Start, n, q.value, q.limits.Lower, q.limits.Center, q.limits.Upper, strings.Join(q.flags, " ")})
		}
	}
	return t
}

func eventTable(marks []mark) Table {
	t := Table{Name: "events", Title: "What happened", Empty: "nothing that was recorded", Most: 15,
		Columns: []Column{{Name: "mark", Head: ""}, {Name: "at", Head: "when"}, {Name: "after_run", Head: "after run"}, {Name: "what", Head: "what"}, {Name: "jig", Head: "jig"}}}
	for _, m := range marks {
		what := m.Kind + ": " + m.Text
		if m.Kind == "lot" {
			what = m.Text
		}
		t.Rows = append(t.Rows, []any{m.letter, m.At, int(m.AfterRun), what, m.Jig})
	}
	return t
}

// digits is how many are worth showing of values on a chart.
func digits(p plot) int {
	width := math.Inf(1)
	for _, q := range p.points {
		if w := q.limits.Upper - q.limits.Lower; w > 0 {
			width = min(width, w)
		}
	}
	if math.IsInf(width, 1) {
		return 2
	}
	return max(0, min(5, 2-int(math.Floor(math.Log10(width)))))
}

func (c Control) drawn(p plot, i int, marks []mark) template.HTML {
	k := chart.Control{
		Frame: chart.Frame{ID: fmt.Sprintf("control%d", i), Title: p.title, Width: 760, Height: 280},
		Y:     chart.Axis{Label: c.Unit}, X: chart.Axis{Label: "in the order of the runs"},
		LimitText: [3]string{"upper", "centre", "lower"},
	}
	for _, q := range p.points {
		point := chart.Point{Value: q.value, Lower: q.limits.Lower, Centre: q.limits.Center, Upper: q.limits.Upper, Name: q.Name, Tip: q.Name}
		if len(q.flags) > 0 {
			point.Signal = 1
		}
		k.Points = append(k.Points, point)
	}
	if i == 0 {
		for _, m := range marks {
			k.Events = append(k.Events, chart.Event{Before: m.before, Mark: m.letter, Tip: m.Text})
		}
	}
	k.Desc = k.Describe("A control chart of %d points, of which %d signal.")
	return k.SVG()
}

// GroupBy cuts readings into the subgroups of a chart.
func GroupBy(points []results.Point, kind ChartKind, by string, n int, zone func(results.Point) string) ([]Group, error) {
	units := averaged(points)
	if !kind.Subgroups() {
		for i := range units {
			units[i].Name = units[i].serial
		}
		return groupsOf(units), nil
	}
	var out []Group
	for i, u := range units {
		var same bool
		switch by {
		case "n":
			same = i%n != 0
		default:
			same = i > 0 && zone(u.point) == zone(units[i-1].point)
		}
		if !same || len(out) == 0 {
			out = append(out, Group{Name: zone(u.point), First: u.First, Start: u.Start})
			if by == "n" {
				out[len(out)-1].Name = u.serial
			}
		}
		last := &out[len(out)-1]
		last.Last, last.Values = u.Last, append(last.Values, u.Values...)
	}
	short := len(out) > 0 && len(out[len(out)-1].Values) < 2 || by == "n" && len(out) > 1 && len(out[len(out)-1].Values) < n
	if short {
		out = out[:len(out)-1] // not complete yet
	}
	if len(out) < 2 {
		return nil, &stats.TooFewError{Have: len(out), Need: 2}
	}
	return out, nil
}

// unitValue is the mean over the keys of one unit.
type unitValue struct {
	Group
	serial string
	point  results.Point
}

func averaged(points []results.Point) []unitValue {
	var out []unitValue
	n := 0.0
	for _, p := range points {
		if last := len(out) - 1; last >= 0 && out[last].First == p.Seq {
			n++
			out[last].Values[0] += (p.Value - out[last].Values[0]) / n
			continue
		}
		n = 1
		out = append(out, unitValue{Group{First: p.Seq, Last: p.Seq, Start: p.Started, Values: []float64{p.Value}}, p.Serial, p})
	}
	return out
}

func groupsOf(units []unitValue) []Group {
	var out []Group
	for _, u := range units {
		out = append(out, u.Group)
	}
	return out
}

// ErrNothingFrozen is returned where limits cannot be frozen.
var ErrNothingFrozen = errors.New("limits can be frozen only with --by NAME and --reason TEXT")
