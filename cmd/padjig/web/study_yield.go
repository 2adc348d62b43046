package web

import (
	"math"
	"strings"

	"padjig/results"
	"padjig/results/report/chart"
	"padjig/results/stats"
)

// yieldPage tells first-pass and final yield apart by anything.
var yieldPage = studyPage("/yield", "yield", func(s *study) error {
	by, err := results.ParseBy(s.param("by", string(results.ByJig)))
	if err != nil {
		return wrong(err.Error())
	}
	names := make([]string, len(results.Bys))
	for i, b := range results.Bys {
		names[i] = string(b)
	}
	s.Own = append(s.Own, s.one("by", string(by), names...))
	s.pooled(by)
	y, err := s.site.Store.Yields(s.ctx(), s.filter, by)
	if err != nil {
		return err
	}
	rows := y.Rows[max(0, len(y.Rows)-mostRows):]
	if len(rows) < len(y.Rows) {
		s.warn("yield.newest", len(rows), len(y.Rows))
	}
	f, err := s.yieldFigure("yield", rows, s.say("yield.by", s.say("ask.by."+string(by))), 1)
	if err != nil {
		return err
	}
	f.Says = append(s.yieldWords(y.Total), s.homogeneous(y.Rows)...)
	s.add(f)
	if err := s.days(); err != nil {
		return err
	}
	stops, err := s.stopNotes()
	if err != nil {
		return err
	}
	if len(stops) == 0 {
		stops = says(s.say("stops.none", stopWindow))
	}
	s.add(figure{Title: s.say("stops.title"), Says: append(stops, says(s.falseStops(y.Total))...)})
	return nil
})

// mostRows is how many rows a chart of rows holds.
const mostRows = 60

// pooled warns of what is counted together although it is judged differently.
func (s *study) pooled(by results.By) {
	switch {
	case by == results.ByProduct:
	case len(s.mixed.Products) > 1:
		s.warn("mixed.products", strings.Join(s.mixed.Products, ", "))
	case len(s.mixed.Revisions) > 1 && by != results.ByRevision:
		s.warn("mixed.revisions", s.revisions(s.mixed))
	}
}

// yieldFigure draws yields, one a row, named by the first so many groups.
func (s *study) yieldFigure(id string, rows []results.Yield, title string, groups int) (figure, error) {
	c := chart.Intervals{
		Frame: s.frame(id, title, s.say("yield.desc", len(rows)), 1000, 0),
		X:     chart.Axis{Label: s.say("yield.axis")}, Reference: math.NaN(),
	}
	total := results.Counts{}
	for _, row := range rows {
		c.Rows = append(c.Rows, s.yieldRow(row))
		total.Units, total.FirstPassed = total.Units+row.Units, total.FirstPassed+row.FirstPassed
	}
	if total.Units > 0 && len(rows) > 1 {
		c.Reference = 100 * float64(total.FirstPassed) / float64(total.Units)
		c.ReferenceText = s.say("yield.reference", s.num(2, c.Reference))
	}
	t := s.yieldTable(id, title, rows, s.say("col.group"))
	t.Open = true
	return figure{Title: title, Chart: c.SVG(), Table: &t}, nil
}

func (s *study) yieldRow(row results.Yield) chart.Interval {
	first, low, high := wilson(row.FirstPassed, row.Units)
	last, lastLow, lastHigh := wilson(row.LastPassed, row.Units)
	name := s.groupName(row.Groups)
	return chart.Interval{
		Name: name, Value: 100 * first, Low: 100 * low, High: 100 * high,
		Second: 100 * last, SecondLow: 100 * lastLow, SecondHigh: 100 * lastHigh,
		Text: "n " + s.whole(row.Units),
		Tip:  name + ": " + s.say("yield.tip", s.partOf(row.FirstPassed, row.Units), s.partOf(row.LastPassed, row.Units)),
	}
}

func (s *study) groupName(groups []string) string {
	name := strings.TrimSpace(strings.Join(groups, " "))
	if name == "" {
		return s.say("study.none")
	}
	return name
}

// yieldTable has everything known of each row: both yields with two intervals,
// and the retests that made the one into the other.
func (s *study) yieldTable(name, caption string, rows []results.Yield, head string) table {
	t := table{Name: name, Caption: caption, Columns: []column{
		{"group", head, false}, {"units", s.say("col.units"), true},
		{"first_pass_percent", s.say("col.first"), true}, {"first_pass_low", s.say("col.low"), true}, {"first_pass_high", s.say("col.high"), true},
		{"first_pass_exact_low", s.say("col.exact.low"), true}, {"first_pass_exact_high", s.say("col.exact.high"), true},
		{"final_percent", s.say("col.final"), true}, {"final_low", s.say("col.low"), true}, {"final_high", s.say("col.high"), true},
		{"retests", s.say("col.retests"), true}, {"cures", s.say("col.cures"), true}, {"relapses", s.say("col.relapses"), true},
		{"runs", s.say("col.runs"), true}, {"reseat", s.say("col.reseat"), true}, {"incomplete", s.say("col.incomplete"), true},
		{"aborted", s.say("col.aborted"), true},
	}}
	for _, row := range rows {
		first, low, high := wilson(row.FirstPassed, row.Units)
		last, lastLow, lastHigh := wilson(row.LastPassed, row.Units)
		exact, err := stats.ClopperPearson(row.FirstPassed, row.Units, confidence)
		if err != nil {
			exact.Low, exact.High = math.NaN(), math.NaN()
		}
		t.Rows = append(t.Rows, []cell{
			{Text: s.groupName(row.Groups), Value: strings.Join(row.Groups, " ")}, s.count(row.Units),
			s.share(2, first), s.share(2, low), s.share(2, high), s.share(2, exact.Low), s.share(2, exact.High),
			s.share(2, last), s.share(2, lastLow), s.share(2, lastHigh),
			s.count(row.Retests), s.count(row.Cures), s.count(row.Relapses),
			s.count(row.Runs), s.count(row.Reseat), s.count(row.Incomplete), s.count(row.Aborted),
		})
	}
	return t
}

// homogeneous says whether the rows differ by more than chance.
func (s *study) homogeneous(rows []results.Yield) []note {
	var counts [][]int
	for _, row := range rows {
		if row.Units > 0 {
			counts = append(counts, []int{row.FirstPassed, row.Units - row.FirstPassed})
		}
	}
	if len(counts) < 2 {
		return nil
	}
	test, err := stats.ChiSquare(counts)
	if err != nil {
		return nil
	}
	key := "yield.alike"
	if test.P < 0.01 {
		key = "yield.differ"
	}
	out := says(s.say(key, s.chance(test.P).Text, len(counts)))
	if test.LeastExpected < 5 {
		out = append(out, note{Text: s.say("yield.rough"), Kind: "say"})
	}
	return out
}

// The stop rule of the pages: a line whose last units did worse than this is
// to be halted and looked at (common practice, no source).
const (
	stopWindow = 50
	stopYield  = 0.90
	stopRun    = 3
)

// stopNotes say where the newest units ask for a stop.
func (s *study) stopNotes() ([]note, error) {
	units, err := s.site.Store.LastUnits(s.ctx(), s.filter, 4*stopWindow)
	if err != nil {
		return nil, err
	}
	causes := make([]string, len(units))
	for i, u := range units {
		causes[i] = u.Cause
		if !u.Passed && u.Cause == "" {
			causes[i] = "?"
		}
	}
	var out []note
	rule := stats.StopRule{Window: stopWindow, MinYield: stopYield, SameRun: stopRun}
	for _, stop := range rule.Stops(causes) {
		at := units[stop.At]
		text := s.say("stops.yield", at.Serial, s.moment(at.Started), stop.Passed, stop.Window)
		if stop.Reason != "" {
			text = s.say("stops.run", at.Serial, s.moment(at.Started), stop.Run, stop.Reason)
		}
		out = append(out, note{Text: text, Kind: "warn"})
	}
	return out, nil
}

// falseStops says how often the rule halts a line in order.
func (s *study) falseStops(c results.Counts) string {
	if c.Units == 0 {
		return ""
	}
	yield := float64(c.FirstPassed) / float64(c.Units)
	p := stats.StopRule{Window: stopWindow, MinYield: stopYield}.FalseStops(yield)
	return s.say("stops.false", stopWindow, s.num(0, 100*stopYield), s.num(1, 100*yield), s.chance(p).Text, stopRun)
}
