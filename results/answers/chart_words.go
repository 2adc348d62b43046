package answers

import (
	"slices"

	"padjig/results/stats/control"
)

func (c *charting) words() []Sentence {
	out := c.baselineWords()
	if c.Over > 0 {
		out = append(out, warn("charts.over", c.Over))
	}
	if c.Dropped > 0 {
		out = append(out, say("charts.dropped", c.Dropped))
	}
	if c.Kind.Subgroups() && slices.ContainsFunc(c.groups, func(g Group) bool { return g.Jigs > 1 }) {
		out = append(out, say("charts.jigs"))
	}
	for i, p := range c.Panels {
		out = append(out, c.panelWords(i, p)...)
	}
	arl := "charts.arl"
	if c.RunLength.Simulated {
		arl = "charts.arl.about"
	}
	switch c.Kind {
	case EWMA:
		out = append(out, say("charts.ewma", Number{c.Lambda, 2}, Number{c.Width, 3}))
	case Cusum:
		out = append(out, say("charts.cusum", Number{c.Allowance, 2}, Number{c.Decision, 1}))
	}
	return append(out, say(arl, Number{c.RunLength.Quiet, 0}, Number{c.RunLength.Shifted, 1}), say("charts.notshown"))
}

func (c *charting) baselineWords() []Sentence {
	if f := c.Frozen; f != nil {
		return []Sentence{say("charts.frozen", f.At.In(c.Zone), f.By, f.Points, f.Reason)}
	}
	out := []Sentence{say("charts.base", c.Base, len(c.groups))}
	if c.Base < LeastBaseline {
		out = append(out, warn("charts.preliminary", c.Base, LeastBaseline))
	}
	return out
}

// panelWords say what signals in a panel. The first panel is the chart; that of
// the spread below it tells how far the first can be read.
func (c *charting) panelWords(i int, p Panel) []Sentence {
	if c.Kind == Cusum {
		return sumWords(p)
	}
	if i > 0 {
		if n := p.Signals(); n > 0 {
			return []Sentence{warn("charts.spread.out", Word("panel."+p.Code), n)}
		}
		return []Sentence{say("charts.spread.calm", Word("panel."+p.Code))}
	}
	var out []Sentence
	counts := map[string]int{}
	for _, q := range p.Points {
		for _, signal := range q.Signals {
			counts[signal]++
		}
	}
	for number, rule := range control.AllRules() {
		if n := counts[rule.String()]; n > 0 {
			out = append(out, warn("charts.rule", number+1, Word("rule."+rule.String()), n))
		}
	}
	if n := counts[Outside]; n > 0 {
		out = append(out, warn("charts.outside", n))
	}
	if out == nil {
		return []Sentence{say("charts.calm", len(p.Points))}
	}
	return append(out, say("charts.cause"))
}

// sumWords tell where a sum passes its limit first, and since when it grew.
func sumWords(p Panel) []Sentence {
	for i, q := range p.Points {
		if len(q.Signals) > 0 {
			return []Sentence{warn("charts.sum.out", Word("panel."+p.Code), i+1, q.Name, i+2-q.N)}
		}
	}
	return []Sentence{say("charts.sum.calm", Word("panel."+p.Code))}
}
