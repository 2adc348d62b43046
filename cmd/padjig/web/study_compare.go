package web

import (
	"math"
	"net/url"
	"slices"
	"strconv"

	"padjig/results"
	"padjig/results/report/chart"
	"padjig/results/stats"
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
	last := s.asked("last", 300, 20, 2000)
	s.Own = append(s.Own, s.named("a", a, values), s.named("b", b, values), s.number("last", strconv.Itoa(last)))
	if a == b {
		return wrong(s.say("compare.same"))
	}
	p := pair{study: s, kind: kind, a: a, b: b, last: last}
	if err := p.yields(); err != nil {
		return err
	}
	return p.readings()
})

// pair is two groups that are compared.
type pair struct {
	*study
	kind, a, b string
	last       int
}

// only is the study's filter for one of the groups.
func (p pair) only(value string) results.Filter {
	f := p.filter
	list := []string{value}
	switch p.kind {
	case "lot":
		f.Lots = list
	case "jig":
		f.Jigs = list
	case "shift":
		f.Shifts = list
	case "revision":
		f.Revisions = list
	case "operator":
		f.Operators = list
	}
	return f
}

// yields compares what share failed first.
func (p pair) yields() error {
	var rows []results.Yield
	for _, value := range []string{p.a, p.b} {
		y, err := p.site.Store.Yields(p.ctx(), p.only(value))
		if err != nil {
			return err
		}
		rows = append(rows, results.Yield{Groups: []string{value}, Counts: y.Total})
	}
	a, b := rows[0].Counts, rows[1].Counts
	if a.Units == 0 || b.Units == 0 {
		return wrong(p.say("compare.nounits"))
	}
	if p.kind == "revision" && len(p.mixed.Revisions) > 1 {
		p.warn("compare.limits", p.revisions(p.mixed))
	}
	f, err := p.yieldFigure("pair", rows, p.say("compare.yield", p.a, p.b), 1)
	if err != nil {
		return err
	}
	test, err := stats.Fisher(stats.Table2{{a.Units - a.FirstPassed, a.FirstPassed}, {b.Units - b.FirstPassed, b.FirstPassed}}, confidence)
	if err != nil {
		return err
	}
	d, i, err := stats.ShareDifference(a.FirstPassed, a.Units, b.FirstPassed, b.Units, confidence)
	if err != nil {
		return err
	}
	f.Says = p.shareWords(d, i, test)
	p.add(f)
	return nil
}

// level is the chance below which a difference is called one.
const level = 0.01

func (p pair) shareWords(d float64, i stats.Interval, test stats.FisherTest) []note {
	size := p.say("compare.size", p.num(2, 100*d), p.num(2, 100*i.Low), p.num(2, 100*i.High), p.chance(test.P).Text, p.near(test.OddsRatio).Text,
		p.near(test.Odds.Low).Text, p.near(test.Odds.High).Text)
	if test.P < level {
		better, worse := p.a, p.b
		if d < 0 {
			better, worse = p.b, p.a
		}
		return says(p.say("compare.better", better, worse), size, p.say("compare.notshown"))
	}
	return says(p.say("compare.chance", p.a, p.b), size, p.say("compare.absence"))
}

// readings compares the closed resistance of every key.
func (p pair) readings() error {
	values := [2]map[string][]float64{}
	for i, value := range []string{p.a, p.b} {
		series, err := p.site.Store.Readings(p.ctx(), p.only(value), results.Closed, nil, p.last)
		if err != nil {
			return err
		}
		values[i] = map[string][]float64{}
		for _, point := range series.Points {
			values[i][point.Key] = append(values[i][point.Key], point.Value)
		}
	}
	keys, err := p.keys()
	if err != nil {
		return err
	}
	var tested []string
	var tests []stats.RankTest
	var chances []float64
	for _, key := range keys {
		test, err := stats.MannWhitney(values[0][key], values[1][key], confidence)
		if err != nil {
			p.note("compare.leftout", key)
			continue
		}
		tested, tests, chances = append(tested, key), append(tests, test), append(chances, test.P)
	}
	p.shifts(tested, tests, stats.Holm(chances))
	return nil
}

// shifts draws by how much each key reads more in the first group.
func (p pair) shifts(keys []string, tests []stats.RankTest, adjusted []float64) {
	title := p.say("compare.readings", p.a, p.b)
	c := chart.Intervals{Frame: p.frame("shifts", title, p.say("compare.readings.desc", len(keys)), 1000, 0), X: chart.Axis{Label: p.say("compare.axis", p.a, p.b)},
		Reference: 0, ReferenceText: "0"}
	t := table{Name: "readings", Caption: title, Open: true, Columns: []column{{"key", p.say("col.key"), false}, {"n_a", "n " + p.a, true}, {"n_b", "n " + p.b, true},
		{"shift_ohm", p.say("col.shift"), true}, {"low", p.say("col.low"), true}, {"high", p.say("col.high"), true},
		{"larger_share", p.say("col.larger"), true}, {"p", "p", true}, {"p_adjusted", p.say("col.padjusted"), true}}}
	var found []string
	for i, key := range keys {
		test := tests[i]
		marked := adjusted[i] < level
		if marked {
			found = append(found, key)
		}
		c.Rows = append(c.Rows, chart.Interval{Name: key, Value: test.Shift, Low: test.Shifts.Low, High: test.Shifts.High, Second: math.NaN(),
			Text: "p " + p.chance(adjusted[i]).Text})
		t.Rows = append(t.Rows, []cell{{Text: key, Value: key, Mark: marked, Link: p.link("/quality/charts", url.Values{"key": {key}})}, p.count(test.N1), p.count(test.N2), p.near(test.Shift),
			p.near(test.Shifts.Low), p.near(test.Shifts.High), p.share(0, test.Larger), p.chance(test.P), p.chance(adjusted[i])})
	}
	f := figure{Title: title, Table: &t, Says: says(p.say("compare.keys.none", len(keys)), p.say("compare.absence"))}
	if len(found) > 0 {
		f.Says = says(p.say("compare.keys", len(found), len(keys), joined(found)), p.say("compare.keys.notshown"))
	}
	if len(c.Rows) > 0 {
		f.Chart = c.SVG()
	}
	p.add(f)
}

// joined lists a few of many names.
func joined(names []string) string {
	const most = 12
	text := ""
	for i, name := range names {
		if i == most {
			return text + " …"
		}
		if i > 0 {
			text += ", "
		}
		text += name
	}
	return text
}
