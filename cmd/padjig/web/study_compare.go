package web

import (
	"math"
	"net/url"
	"slices"
	"strconv"

	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/report"
	"padjig/results/report/chart"
)

// comparePage holds two groups of runs against each other: lots, jigs, shifts,
// revisions or operators.
var comparePage = studyPage("/compare", "compare", func(s *study) error {
	kinds := map[string][]string{"lot": s.there.Lots, "jig": s.there.Jigs, "shift": s.there.Shifts,
		"revision": s.there.Revisions, "operator": s.there.Operators}
	kind := s.param("what", "jig")
	values, known := kinds[kind]
	if !known {
		return wrong(s.say("charts.unknown"))
	}
	s.Own = append(s.Own, s.one("what", kind, "lot", "jig", "shift", "revision", "operator"))
	if len(values) < 2 {
		return wrong(s.say("compare.two"))
	}
	a, b := s.param("a", values[0]), s.param("b", values[1])
	if !slices.Contains(values, a) || !slices.Contains(values, b) {
		a, b = values[0], values[1] // those of another kind, chosen before
	}
	across := s.param("across", "")
	last := s.asked("last", answers.Last, 20, 2000)
	s.Own = append(s.Own, s.named("a", a, values), s.named("b", b, values), compareView{s}.across(across, kind),
		s.number("last", strconv.Itoa(last)))
	if a == b {
		return wrong(s.say("compare.same"))
	}
	if across != "" {
		if by, err := lines.ParseDimension(across); err != nil || string(by) == kind {
			return wrong(s.say("charts.unknown"))
		}
	}
	c, err := answers.AskCompare(s.ctx(), s.site.Store, answers.CompareAsked{Selection: s.about(),
		By: lines.Dimension(kind), A: a, B: b,
		Across: lines.Dimension(across), Last: last})
	if err != nil {
		return err
	}
	title := s.say("compare.yield", a, b)
	f := s.yieldFigure("pair", nil, c.Sides[:], title)
	f.Table, f.Says = s.tableOf(report.SideTable(c), title), s.tell(c.Conclusions)
	f.Table.Open = true
	s.add(f)
	if t := report.DifferenceTable(c); len(t.Rows) > 0 {
		s.add(figure{Title: s.say("compare.difference"), Table: s.tableOf(t, s.say("compare.difference"))})
	}
	compareView{s}.shifts(c)
	return nil
})

// compareView is the page that compares two groups.
type compareView struct{ *study }

// across asks within what is compared.
func (s compareView) across(value, kind string) ask {
	a := ask{Name: "across", Label: s.say("ask.within"), Kind: "one", Value: value,
		Options: []option{{"", s.say("ask.within.none"), value == ""}}}
	for _, by := range []string{"jig", "lot", "shift", "revision", "operator", "day"} {
		if by != kind {
			a.Options = append(a.Options, option{by, s.say("ask.by." + by), by == value})
		}
	}
	return a
}

// shifts draws by how much each key reads more in the first group.
func (s compareView) shifts(a answers.Comparison) {
	title := s.say("compare.readings", a.A, a.B)
	c := chart.Intervals{Frame: s.frame("shifts", title, s.say("compare.readings.desc", len(a.Rows)), 1000, 0),
		X:         chart.Axis{Label: s.say("compare.axis", a.A, a.B)},
		Reference: 0, ReferenceText: "0"}
	t := s.tableOf(report.ComparedTable(a), title)
	t.Open = true
	for i, k := range a.Rows {
		t.Rows[i][0].Mark, t.Rows[i][0].Link = k.Differs, s.link("/quality/charts", url.Values{"key": {k.Key}})
		if k.Why == nil {
			c.Rows = append(c.Rows, chart.Interval{Name: k.Key, Value: k.Shift.Value, Low: k.Shift.Low,
				High: k.Shift.High, Second: math.NaN(),
				Text: "p " + report.Probability(s.Lang, float64(k.HolmP))})
		}
	}
	f := figure{Title: title, Table: t}
	if len(c.Rows) > 0 {
		f.Chart = c.SVG()
	}
	s.add(f)
}
