package report

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"padjig/results/answers/probes"
	"padjig/results/lines"
	"padjig/results/report/chart"
)

// Probes writes which probes of the jigs stand out.
func Probes(p probes.Probes) Document {
	d := about(p.Selection, "Probes of the jigs", lines.Mixture{})
	probes, tails, changes := ProbeTable(p), TailTable(p), TipTable(p)
	probes.Title = fmt.Sprintf("Each channel of each jig in the newest %d runs, those that stand out first, %s intervals", p.Looked, confidenceOf(p.Selection))
	tails.Title = "Each pin of the tail on all jigs together, beside all other pins"
	changes.Title = "Loops before and after a probe set took another's place"
	d.Tables = []Table{probes, tails, changes}
	d.Charts = []Chart{{Title: "Doubtful contact", SVG: func() template.HTML { return probesChart(p) }}}
	d.Conclusion = p.Conclusions
	return d
}

// ProbeTable has a row for each channel of each jig.
func ProbeTable(p probes.Probes) Table {
	return Table{Name: "probes", Most: 30, Columns: Columns("jig, channel, line, probe_set minor, units minor, doubtful, rate_here % .2, rate_others % .2 minor, " +
		"rate_elsewhere % .2 minor, cleared minor, cleared_elsewhere minor, loop ohm .3 minor, first ohm .3 minor, last ohm .3 minor, rise ohm .3 minor, stands, p"),
		Rows: rows(p.Rows, func(r probes.Probe) row {
			var why []string
			for _, w := range r.Why {
				why = append(why, word(terminal, string(w)))
			}
			set := r.Set
			if r.Tip != "" {
				set += " (" + r.Tip + ")"
			}
			return row{r.Jig, r.Channel, r.Line, set, r.Units, r.BadUnits, r.Bad, r.Others, r.Elsewhere, r.Cleared, r.ClearedElse, r.Median, r.First,
				r.Last, r.Rise, strings.Join(why, ", "), r.P}
		})}
}

// TailTable has a row for each pin of the tail, where there are several jigs.
func TailTable(p probes.Probes) Table {
	return Table{Name: "tail", Most: 12, Empty: "one jig only: a pin of the tail cannot be told from its probe",
		Columns: Columns("channel, line, rate_here % .2, rate_others % .2, stands, p"),
		Rows:    rows(p.Tails, func(t probes.TailPin) row { return row{t.Channel, t.Line, t.Bad, t.Others, t.Stands, t.P} })}
}

// TipTable has a row for each change of a probe set.
func TipTable(p probes.Probes) Table {
	return Table{Name: "tip_changes", Empty: "no probe set took another's place by the records",
		Columns: Columns("jig, part, was, is, after_run minor, runs_before, runs_after, loop_before ohm .3, loop_after ohm .3, spread_before ohm .4, " +
			"spread_after ohm .4, p"),
		Rows: rows(p.Changes, func(c probes.TipChange) row {
			return row{c.Jig, c.Part, c.Was, c.Is, int(c.AfterRun), c.Before, c.After, c.MedianBefore, c.MedianAfter, c.SpreadBefore, c.SpreadAfter, c.P}
		})}
}

// mostProbes is how many probes a chart shows: those that stand out, and the next ones.
const mostProbes = 20

func probesChart(p probes.Probes) template.HTML {
	return ProbesChart(p, chart.Frame{ID: "probes", Title: "Units with doubtful contact", Desc: "Share of units by probe, beside the same position on the other jigs.",
		Width: 720}, chart.Axis{Label: "%"}, func(probes.Probe) (tip, link string) { return "", "" })
}

// ProbesChart draws the share of units with doubtful contact at each probe beside the same
// position on the other jigs. Behind says what a probe tells, and where it leads.
func ProbesChart(p probes.Probes, frame chart.Frame, x chart.Axis, behind func(probes.Probe) (tip, link string)) template.HTML {
	c := chart.Intervals{Frame: frame, X: x, Reference: math.NaN()}
	for _, r := range p.Rows[:min(len(p.Rows), mostProbes)] {
		tip, link := behind(r)
		c.Rows = append(c.Rows, chart.Interval{Name: fmt.Sprintf("%s · %d %s", r.Jig, r.Channel, r.Line), Value: 100 * r.Bad.Value, Low: 100 * r.Bad.Low,
			High: 100 * r.Bad.High, Second: 100 * r.Elsewhere.Value, SecondLow: 100 * r.Elsewhere.Low, SecondHigh: 100 * r.Elsewhere.High,
			Text: Whole(r.BadUnits), Tip: tip, Link: link})
	}
	return c.SVG()
}
