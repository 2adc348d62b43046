package charts

import (
	"math"
	"slices"

	"padjig/results/answers"
	"padjig/results/stats/control"
)

func (c *charting) words() []answers.Sentence {
	out := append(c.about, c.baselineWords()...)
	if c.Over > 0 {
		out = append(out, answers.Warn("charts.over", c.Over))
	}
	if c.Dropped > 0 {
		out = append(out, answers.Say("charts.dropped", c.Dropped))
	}
	if c.Kind.Subgroups() && slices.ContainsFunc(c.groups, func(g Group) bool { return g.Jigs > 1 }) {
		out = append(out, answers.Say("charts.jigs"))
	}
	for i, p := range c.Panels {
		out = append(out, c.panelWords(i, p)...)
	}
	switch c.Kind {
	case EWMA:
		out = append(out, answers.Say("charts.ewma", answers.Number{Value: c.Lambda, Digits: 2}, answers.Number{Value: c.Width, Digits: 3}))
	case Cusum:
		out = append(out, answers.Say("charts.cusum", answers.Number{Value: c.Allowance, Digits: 2}, answers.Number{Value: c.Decision, Digits: 1}))
	}
	return append(out, c.RunLength.words(), answers.Say("charts.notshown"))
}

func (r RunLengths) words() answers.Sentence {
	quiet, shifted := answers.Number{Value: r.Quiet, Digits: 0}, answers.Number{Value: r.Shifted, Digits: 1}
	lag, chance := answers.Number{Value: r.Lag1, Digits: 2}, answers.Number{Value: r.Chance, Digits: 2}
	switch {
	case math.IsInf(r.Quiet, 1) || math.IsInf(r.Shifted, 1):
		return answers.Say("charts.arl.never", lag, chance)
	case r.Dependent:
		return answers.Say("charts.arl.lag", quiet, shifted, lag, chance)
	}
	return answers.Say("charts.arl", quiet, shifted, lag, chance)
}

func (c *charting) baselineWords() []answers.Sentence {
	if f := c.Frozen; f != nil {
		return []answers.Sentence{answers.Say("charts.frozen", f.At.In(c.Zone), f.By, f.Points, f.Reason)}
	}
	out := []answers.Sentence{answers.Say("charts.base", c.Base, len(c.groups))}
	if c.Base < answers.LeastBaseline {
		out = append(out, answers.Warn("charts.preliminary", c.Base, answers.LeastBaseline))
	}
	return out
}

// panelWords say what signals in a panel. The first panel is the chart; that of
// the spread below it tells how far the first can be read.
func (c *charting) panelWords(i int, p Panel) []answers.Sentence {
	if c.Kind == Cusum {
		return sumWords(p)
	}
	if i > 0 {
		if n := p.Signals(); n > 0 {
			return []answers.Sentence{answers.Warn("charts.spread.out", answers.Word("panel."+p.Code), n)}
		}
		return []answers.Sentence{answers.Say("charts.spread.calm", answers.Word("panel."+p.Code))}
	}
	var out []answers.Sentence
	counts := map[string]int{}
	for _, q := range p.Points {
		for _, signal := range q.Signals {
			counts[signal]++
		}
	}
	for number, rule := range control.AllRules() {
		if n := counts[rule.String()]; n > 0 {
			out = append(out, answers.Warn("charts.rule", number+1, answers.Word("rule."+rule.String()), n))
		}
	}
	if n := counts[Outside]; n > 0 {
		out = append(out, answers.Warn("charts.outside", n))
	}
	if out == nil {
		return []answers.Sentence{answers.Say("charts.calm", len(p.Points))}
	}
	return append(out, answers.Say("charts.cause"))
}

// sumWords tell where a sum passes its limit first, and since when it grew.
func sumWords(p Panel) []answers.Sentence {
	for i, q := range p.Points {
		if len(q.Signals) > 0 {
			return []answers.Sentence{answers.Warn("charts.sum.out", answers.Word("panel."+p.Code), i+1, q.Name, i+2-q.N)}
		}
	}
	return []answers.Sentence{answers.Say("charts.sum.calm", answers.Word("panel."+p.Code))}
}
