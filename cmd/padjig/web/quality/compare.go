package quality

import (
	"math"
	"net/url"
	"slices"
	"strconv"

	"padjig/cmd/padjig/web/page"
	"padjig/results/answers"
	"padjig/results/answers/units"
	"padjig/results/lines"
	"padjig/results/report"
	"padjig/results/report/chart"
)

// comparePage holds two groups of runs against each other: lots, jigs, shifts,
// revisions, operators or, in a plant, stations.
func comparePage(s *study) error {
	kinds := map[string][]string{"lot": s.at.There.Lots, "jig": s.at.There.Jigs, "shift": s.at.There.Shifts,
		"revision": s.at.There.Revisions, "operator": s.at.There.Operators}
	offered := []string{"lot", "jig", "shift", "revision", "operator"}
	if s.store.OfMany() {
		kinds["station"] = s.at.There.Stations
		offered = append(offered, "station")
	}
	kind := s.param("what", "jig")
	values, known := kinds[kind]
	if !known {
		return page.Wrong(s.Say("charts.unknown"))
	}
	s.offer(s.one("what", kind, offered...))
	if len(values) < 2 {
		return page.Wrong(s.Say("compare.two"))
	}
	a, b := s.param("a", values[0]), s.param("b", values[1])
	if !slices.Contains(values, a) || !slices.Contains(values, b) {
		a, b = values[0], values[1] // those of another kind, chosen before
	}
	across := s.param("across", "")
	last := s.asked("last", answers.Last, 20, 2000)
	s.offer(s.named("a", a, values), s.named("b", b, values), within(s, across, kind),
		s.number("last", strconv.Itoa(last)))
	if a == b {
		return page.Wrong(s.Say("compare.same"))
	}
	if across != "" {
		if by, err := lines.ParseDimension(across); err != nil || string(by) == kind {
			return page.Wrong(s.Say("charts.unknown"))
		}
	}
	c, err := answers.AskCompare(s.ctx, s.store, answers.CompareAsked{Selection: s.about(),
		By: lines.Dimension(kind), A: a, B: b,
		Across: lines.Dimension(across), Last: last})
	if err != nil {
		return err
	}
	title := s.Say("compare.yield", a, b)
	by := lines.Dimension(kind)
	if by == lines.ByLot {
		by = lines.ByMembrane // lots are chosen alike, of whatever material
	}
	f := s.yieldFigure("pair", []lines.Dimension{by}, c.Sides[:], title)
	f.Table, f.Says = s.TableOf(report.SideTable(c), title), tell(s.Words, c.Conclusions)
	f.Table.Open = true
	s.add(f)
	if t := report.DifferenceTable(c); len(t.Rows) > 0 {
		s.show(s.Say("compare.difference"), t, false)
	}
	shifts(s, c, groupParams[by])
	return nil
}

// within asks within what is compared.
func within(s *study, value, kind string) ask {
	a := ask{Name: "across", Label: s.Say("ask.within"), Kind: "one", Value: value,
		Options: []page.Option{{Value: "", Text: s.Say("ask.within.none"), Chosen: value == ""}}}
	for _, by := range []string{"jig", "lot", "shift", "revision", "operator", "day", "station"} {
		if by != kind && (by != "station" || s.store.OfMany()) {
			a.Options = append(a.Options, page.Option{Value: by, Text: s.Say("ask.by." + by), Chosen: by == value})
		}
	}
	return a
}

// shifts draws by how much each key reads more in the first group. Behind each are the
// units of both groups at which it was read; param chooses the groups.
func shifts(s *study, a answers.Comparison, param string) {
	title := s.Say("compare.readings", a.A, a.B)
	c := chart.Intervals{Frame: s.frame("shifts", title, s.Say("compare.readings.desc", len(a.Rows)), 1000, 0),
		X:         chart.Axis{Label: s.Say("compare.axis", a.A, a.B)},
		Reference: 0, ReferenceText: "0"}
	t := s.TableOf(report.ComparedTable(a), title)
	t.Open = true
	for i, k := range a.Rows {
		t.Rows[i][0].Mark, t.Rows[i][0].Link = k.Differs, s.link("/quality/charts", url.Values{"key": {k.Key}})
		if k.Why == nil {
			of := units.Values(readAt(k.Key, [2]int64{}))
			of[param] = []string{a.A, a.B}
			c.Rows = append(c.Rows, chart.Interval{Name: k.Key, Value: k.Shift.Value, Low: k.Shift.Low,
				High: k.Shift.High, Second: math.NaN(), Link: s.unitsLink(of),
				Text: "p " + report.Probability(s.Lang, float64(k.HolmP)),
				Tip: k.Key + "\n" + s.Near(k.Shift.Value) + " (" + s.Near(k.Shift.Low) + " – " + s.Near(k.Shift.High) + ") " + a.Measure.Unit() +
					"\n" + a.A + " n " + report.Whole(k.N[0]) + ", " + a.B + " n " + report.Whole(k.N[1])})
		}
	}
	f := figure{Title: title, Table: t}
	if len(c.Rows) > 0 {
		f.Chart = c.SVG()
	}
	s.add(f)
}
