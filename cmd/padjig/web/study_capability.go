package web

import (
	"math"
	"slices"
	"strconv"

	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/report"
	"padjig/results/report/chart"
)

// capabilityPage says how the spread of each key compares with its limits, and
// looks at one key closely: its distribution first, then its indices.
var capabilityPage = studyPage("/capability", "capability", func(s *study) error {
	keys, err := s.keys()
	if err != nil {
		return err
	}
	key, last := s.param("key", keys[0]), s.asked("last", answers.Last, 30, 5000)
	s.Own = append(s.Own, s.named("key", key, keys), s.number("last", strconv.Itoa(last)))
	if !slices.Contains(keys, key) {
		return &lines.MissingKeysError{Missing: []string{key}, Known: keys}
	}
	c, err := answers.AskCapability(s.ctx(), s.site.Store, answers.CapabilityAsked{Selection: s.about(), Last: last})
	if err != nil {
		return err
	}
	s.Notes = append(s.Notes, s.tell(c.Conclusions)...)
	closer := c.Rows[slices.IndexFunc(c.Rows, func(k answers.KeyCapability) bool { return k.Key == key })]
	if closer.Why == nil {
		capabilityView{s}.closer(closer)
	} else if !s.told(closer.Why) {
		s.note("capability.why", key, closer.Why)
	}
	capabilityView{s}.capabilities(c)
	return nil
})

// capabilityView is the figures of the page of capabilities.
type capabilityView struct{ *study }

// closer looks at one key: its distribution, the probability plot, its indices.
func (s capabilityView) closer(k answers.KeyCapability) {
	h := k.Histogram(60)
	s.add(s.histogram(k.Key, h.Low, h.Width, h.Counts, k.Limits))
	title := s.say("capability.plot")
	curve, line := chart.Curve{Points: true}, chart.Curve{Name: s.say("capability.line")}
	t := report.Table{Name: "plot", Columns: []report.Column{{Name: "quantile", Digits: 4},
		{Name: "value", Unit: "ohm", Digits: 2}}}
	points := k.Plot()
	for _, p := range points {
		curve.X, curve.Y = append(curve.X, p.Value), append(curve.Y, p.Quantile)
		t.Rows = append(t.Rows, []any{p.Quantile, p.Value})
	}
	for _, z := range []float64{points[0].Quantile, points[len(points)-1].Quantile} {
		line.X, line.Y = append(line.X, k.Mean+z*k.SD), append(line.Y, z)
	}
	c := chart.Curves{Frame: s.frame("plot", title, s.say("capability.plot.desc", len(points)), 580, 300),
		X: chart.Axis{Label: s.say("axis.ohm")},
		Y: chart.Axis{Label: s.say("axis.sigma")}, Curves: []chart.Curve{curve, line}}
	p := report.Probability(s.Lang, float64(k.NormalP))
	verdict := note{Text: s.say("capability.normal", p, s.num(3, k.A2), s.num(4, k.Straight)), Kind: "say"}
	if k.Method == answers.ByPercentiles {
		verdict = note{Text: s.say("capability.notnormal", p, s.num(3, k.A2), s.num(4, k.Straight)), Kind: "warn"}
	}
	s.add(figure{Title: title, Small: true, Chart: c.SVG(), Table: s.tableOf(t, title), Says: []note{verdict}})
	s.indices(k)
}

// indices lists those of one key with what each says.
func (s capabilityView) indices(k answers.KeyCapability) {
	title := s.say("capability.title", k.Key)
	t := report.Table{Name: "indices", Columns: []report.Column{{Name: "index"}, {Name: "value", Digits: 2}}}
	for _, one := range []struct {
		name string
		of   answers.Estimate
	}{{"Cp", k.Cp}, {"Cpk", k.Cpk}, {"Pp", k.Pp}, {"Ppk", k.Ppk}} {
		if !math.IsNaN(one.of.Value) {
			t.Rows = append(t.Rows, []any{one.name, one.of})
		}
	}
	out := s.tableOf(t, title)
	out.Open = true
	out.Columns = append(out.Columns, column{"means", s.say("col.means"), false})
	for i, row := range out.Rows {
		name := row[0].Text
		if name[0] == 'P' && k.Method == answers.ByPercentiles {
			name += ".percentiles"
		}
		out.Rows[i] = append(row, plainWords(s.say("index."+name)))
	}
	words := says(s.say("capability.words", s.num(3, k.Within), s.num(3, k.SD), s.whole(k.N), s.num(2, k.SD/k.Within)))
	if math.IsNaN(k.ExpectedPPM) {
		words = append(words, says(s.say("capability.outside", s.whole(k.Outside), s.whole(k.N)))...)
	} else {
		words = append(words, says(s.say("capability.ppm", s.whole(k.Outside), s.whole(k.N),
			s.num(report.DigitsFor(k.ExpectedPPM), k.ExpectedPPM)))...)
	}
	if k.Method == answers.ByPercentiles && !k.TailsSeen {
		words = append(words, says(s.say("capability.tails"))...)
	}
	s.add(figure{Title: title, Table: out, Says: words})
}

// histogram is the distribution of single readings of one key.
func (s *study) histogram(key string, low, width float64, counts []int, limits [2]float64) figure {
	title, n := s.say("spread.key", key), 0
	d := chart.Distribution{X: chart.Axis{Label: s.say("axis.ohm")}, Lower: orNone(limits[0]), Upper: orNone(limits[1])}
	t := report.Table{Name: "histogram", Columns: []report.Column{{Name: "from", Unit: "ohm", Digits: 3},
		{Name: "to", Unit: "ohm", Digits: 3}, {Name: "count"}}}
	for i, count := range counts {
		from := low + float64(i)*width
		d.Bins = append(d.Bins, chart.Bin{Low: from, High: from + width, Count: float64(count), Tip: s.whole(count)})
		t.Rows = append(t.Rows, []any{from, from + width, count})
		n += count
	}
	d.Frame = s.frame("histogram", title, s.say("spread.key.desc", key, n), 580, 300)
	if !math.IsNaN(d.Upper) {
		d.LimitText[1] = s.say("limit.most", s.num(0, d.Upper))
	}
	if !math.IsNaN(d.Lower) {
		d.LimitText[0] = s.say("limit.least", s.num(0, d.Lower))
	}
	return figure{Title: title, Small: true, Chart: d.SVG(), Table: s.tableOf(t, title),
		Says: says(s.say("spread.n", s.whole(n)))}
}

// capabilities compares all keys.
func (s capabilityView) capabilities(a answers.Capability) {
	title := s.say("capability.all")
	c := chart.Intervals{Frame: s.frame("ppk", title, s.say("capability.all.desc", len(a.Rows)), 1000, 0),
		X:         chart.Axis{Label: "Ppk"},
		Reference: answers.GoodPpk, ReferenceText: s.num(2, answers.GoodPpk)}
	t := s.tableOf(report.CapabilityTable(a), title)
	for i, k := range a.Rows {
		t.Rows[i][0].Link = s.link(s.Plain, map[string][]string{"key": {k.Key}})
		if k.Why == nil {
			c.Rows = append(c.Rows, chart.Interval{Name: k.Key, Value: k.Ppk.Value, Low: k.Ppk.Low, High: k.Ppk.High,
				Second: math.NaN(), Text: "n " + s.whole(k.N)})
		}
	}
	f := figure{Title: title, Table: t, Says: says(s.say("capability.all.words"))}
	if len(c.Rows) > 0 {
		f.Chart = c.SVG()
	}
	s.add(f)
}
