package report

import (
	"fmt"
	"html/template"
	"math"

	"padjig/results/answers"
	"padjig/results/report/chart"
	"padjig/results/report/pad"
	"padjig/sequence/wording"
)

// Causes writes what fails, where on the pad, and what is one jig's own.
func Causes(c answers.Causes) Document {
	d := about(c.Selection, "Causes by "+string(c.By), c.Mixed)
	causes, keys, places := CauseTable(c), PadTable(c.Pad), PlaceTable(c.Places)
	causes.Title = fmt.Sprintf("What failed units failed with first, %s intervals", confidenceOf(c.Selection))
	keys.Quiet, places.Title = true, "The same place on one jig and on all others"
	d.Tables = []Table{causes, keys, places}
	d.Charts = []Chart{{Title: "Causes", SVG: func() template.HTML { return causesChart(c) }}}
	if len(c.Pad) > 0 {
		heat := CausesPad(c.Pad)
		d.Drawing = heat.Text() + "  defects at each key where units were judged first; ░ ▒ ▓ █: up to a\n  quarter, half, three quarters and all of the most\n"
		d.Charts = append(d.Charts, Chart{Title: heat.Title, SVG: func() template.HTML { return heat.Chart("pad", 560, true) }})
	}
	d.Conclusion = c.Conclusions
	return d
}

// CauseTable has a row for each cause, most units first.
func CauseTable(c answers.Causes) Table {
	return Table{Name: "causes", Empty: "no unit failed", Most: 30,
		Columns: Columns("cause, units, of_failed % .1, of_units % .3 minor, together % .1, findings minor, with_retests minor"),
		Rows: rows(c.Rows, func(r answers.CauseRow) row {
			return row{r.Name, r.Worst, r.OfFailed, r.OfUnits, r.SoFar, r.Units, r.Runs}
		})}
}

// PadTable has a row for each key.
func PadTable(keys []answers.KeyHits) Table {
	return Table{Name: "keys", Columns: Columns("key, findings, of_units % .3"),
		Rows: rows(keys, func(k answers.KeyHits) row { return row{k.Label, k.Findings, k.OfUnits} })}
}

// PlaceTable has a row for each place on a jig.
func PlaceTable(places []answers.Place) Table {
	return Table{Name: "places", Empty: "nothing came up often enough at one place of one jig to compare",
		Columns: Columns("place, jig, here, rate_here % .3 minor, elsewhere, rate_elsewhere % .3 minor, odds .1 minor, p"),
		Rows: rows(places, func(p answers.Place) row {
			return row{p.Name, p.Jig, p.Hits, p.Here, p.OtherHits, p.Elsewhere, p.Odds, p.P}
		})}
}

func causesChart(c answers.Causes) template.HTML {
	bars := Pareto(terminal, c, 25)
	bars.Frame = chart.Frame{ID: "causes", Title: "Units by their worst defect",
		Desc: "Units that failed first, by " + string(c.By) + ", most first.", Width: 720}
	bars.X.Label = "units"
	return bars.SVG()
}

// Pareto is causes to be drawn, most units first, and what they come to together where a
// unit counts for one of them alone.
func Pareto(lang wording.Words, c answers.Causes, most int) chart.Bars {
	bars := chart.Bars{X: chart.Axis{Whole: true}}
	for _, row := range c.Rows[:min(len(c.Rows), most)] {
		text := Whole(row.Worst) + " · " + Number(lang, 1, 100*row.OfFailed.Value) + " %"
		name := wording.Recorded(lang, row.Name)
		tip := name + "\n" + word(lang, "chart.units") + ": " + Whole(row.Worst) + " (" + Number(lang, 1, row.Count.Low) + " – " +
			Number(lang, 1, row.Count.High) + ")\n" + Part(lang, row.OfFailed) + ", n " + Whole(c.Failed)
		if !math.IsNaN(row.SoFar) {
			text += " · " + Number(lang, 0, 100*row.SoFar) + " %"
			bars.Whole, bars.WholeText = float64(c.Failed), word(lang, "chart.together")
		}
		bars.Bars = append(bars.Bars, chart.Bar{Name: name, Value: float64(row.Worst), Low: row.Count.Low, High: row.Count.High,
			SoFar: row.SoFar * float64(c.Failed), Text: text, Tip: tip})
	}
	return bars
}

// CausesPad is the pad with the findings about each key, shaded by them.
func CausesPad(keys []answers.KeyHits) pad.Pad {
	p, most := pad.Pad{Title: "Where units fail", Desc: "The pad with the defects at each key."}, 0
	for _, k := range keys {
		most = max(most, k.Findings)
		p.Keys = append(p.Keys, pad.Key{Label: k.Label, X: k.X, Y: k.Y, W: k.W, H: k.H, Value: float64(k.Findings), Now: fmt.Sprint(k.Findings)})
	}
	p.Scale = [2]string{"none", fmt.Sprint(most)}
	return p
}
