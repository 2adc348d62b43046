package web

import (
	"math"
	"slices"
	"strconv"

	"padjig/results"
	"padjig/results/report/chart"
	"padjig/results/stats"
)

// capabilityPage says how the spread of each key compares with its limits, and
// looks at one key closely: its distribution first, then its indices.
var capabilityPage = studyPage("/capability", "capability", func(s *study) error {
	keys, err := s.keys()
	if err != nil {
		return err
	}
	key, last := s.param("key", keys[0]), s.asked("last", 500, 30, 5000)
	s.Own = append(s.Own, s.named("key", key, keys), s.number("last", strconv.Itoa(last)))
	series, err := s.site.Store.Readings(s.ctx(), s.filter, results.Closed, nil, last)
	if err != nil {
		return err
	}
	if !slices.Contains(keys, key) {
		return &results.MissingKeysError{Missing: []string{key}, Known: keys}
	}
	byKey := map[string][]float64{}
	for _, p := range series.Points {
		byKey[p.Key] = append(byKey[p.Key], p.Value)
	}
	if series.Beyond > 0 {
		s.warn("charts.beyond", series.Beyond)
	}
	s.note("capability.units", last)
	closer := s.closer(key, byKey[key], series.Limits[key])
	s.capabilities(keys, byKey, series.Limits)
	return closer
})

// specOf turns stored limits into a specification; 0 is none.
func specOf(limits [2]float64) stats.Spec {
	spec := stats.Spec{Lower: math.Inf(-1), Upper: math.Inf(1)}
	if limits[0] > 0 {
		spec.Lower = limits[0]
	}
	if limits[1] > 0 {
		spec.Upper = limits[1]
	}
	return spec
}

// groupSize is how many units in a row make a subgroup, whose spread is that
// within.
const groupSize = 5

func inGroups(values []float64) (out [][]float64) {
	for group := range slices.Chunk(values, groupSize) {
		if len(group) == groupSize {
			out = append(out, group)
		}
	}
	return out
}

// normalEnough is the chance below which a sample is not taken for normal.
const normalEnough = 0.05

// closer looks at one key.
func (s *study) closer(key string, values []float64, limits [2]float64) error {
	if len(values) == 0 {
		return stats.ErrEmpty
	}
	if err := s.looksNormal(key, values, limits); err != nil {
		return err
	}
	within, err := stats.WithinSubgroups(inGroups(values))
	if err != nil {
		return err
	}
	c, err := stats.NewCapability(values, within, specOf(limits))
	if err != nil {
		return err
	}
	title := s.say("capability.title", key)
	t := table{Name: "capability", Caption: title, Open: true, Columns: []column{{"index", s.say("col.index"), false}, {"value", s.say("col.value"), true},
		{"low", s.say("col.low"), true}, {"high", s.say("col.high"), true}, {"what", s.say("col.means"), false}}}
	row := func(name string, value float64, i stats.Interval) {
		if !math.IsNaN(value) {
			t.Rows = append(t.Rows, []cell{plainWords(name), s.value(2, value), s.value(2, i.Low), s.value(2, i.High),
				{Text: s.say("index." + name), Value: name}})
		}
	}
	n := c.N
	row("Cp", c.Could.Both, stats.CpInterval(c.Could.Both, c.Within.DF, confidence))
	row("Cpk", c.Could.Worst, stats.CpkInterval(c.Could.Worst, n, c.Within.DF, confidence))
	row("Pp", c.Did.Both, stats.CpInterval(c.Did.Both, c.Overall.DF, confidence))
	row("Ppk", c.Did.Worst, stats.CpkInterval(c.Did.Worst, n, c.Overall.DF, confidence))
	says := says(s.say("capability.words", s.num(3, c.Within.Value), s.num(3, c.Overall.Value), s.whole(n), s.num(2, c.Overall.Value/c.Within.Value)),
		s.say("capability.ppm", s.whole(c.ObservedOut), s.whole(n), s.num(digitsFor(c.ExpectedPPM), c.ExpectedPPM)))
	p, err := stats.PercentileCapability(values, specOf(limits), confidence, resamples, 1)
	if err == nil {
		row("percentile", p.Did.Worst, p.Worst)
		if !p.TailsSeen {
			says = append(says, note{Text: s.say("capability.tails"), Kind: "say"})
		}
	}
	s.add(figure{Title: title, Table: &t, Says: says})
	return nil
}

// resamples of the bootstrap interval.
const resamples = 1000

// looksNormal draws the distribution and the probability plot of a key.
func (s *study) looksNormal(key string, values []float64, limits [2]float64) error {
	points, straight, err := stats.ProbabilityPlot(values)
	if err != nil {
		return err
	}
	ad, err := stats.AndersonDarling(values)
	if err != nil {
		return err
	}
	s.add(s.histogram(key, values, limits))
	title := s.say("capability.plot")
	curve, line := chart.Curve{Points: true}, chart.Curve{Name: s.say("capability.line")}
	t := table{Name: "plot", Caption: title, Columns: []column{{"quantile", s.say("col.quantile"), true}, {"value_ohm", s.say("axis.ohm"), true}}}
	for _, p := range points {
		curve.X, curve.Y = append(curve.X, p.Value), append(curve.Y, p.Quantile)
		t.Rows = append(t.Rows, []cell{s.value(4, p.Quantile), s.near(p.Value)})
	}
	sum, err := stats.Summarize(values)
	if err != nil {
		return err
	}
	for _, z := range []float64{points[0].Quantile, points[len(points)-1].Quantile} {
		line.X, line.Y = append(line.X, sum.Mean+z*sum.SD), append(line.Y, z)
	}
	c := chart.Curves{Frame: s.frame("plot", title, s.say("capability.plot.desc", len(points)), 580, 300), X: chart.Axis{Label: s.say("axis.ohm")},
		Y: chart.Axis{Label: s.say("axis.sigma")}, Curves: []chart.Curve{curve, line}}
	verdict := s.say("capability.normal", s.chance(ad.P).Text, s.num(3, ad.Adjusted), s.num(4, straight))
	kind := "say"
	if ad.P < normalEnough {
		verdict, kind = s.say("capability.notnormal", s.chance(ad.P).Text, s.num(3, ad.Adjusted), s.num(4, straight)), "warn"
	}
	s.add(figure{Title: title, Small: true, Chart: c.SVG(), Table: &t, Says: []note{{Text: verdict, Kind: kind}}})
	return nil
}

// histogram is the distribution of single readings of one key.
func (s *study) histogram(key string, values []float64, limits [2]float64) figure {
	title := s.say("spread.key", key)
	d := chart.Distribution{Frame: s.frame("histogram", title, s.say("spread.key.desc", key, len(values)), 580, 300), X: chart.Axis{Label: s.say("axis.ohm")},
		Lower: orNone(limits[0]), Upper: orNone(limits[1])}
	t := table{Name: "histogram", Caption: title, Columns: []column{{"from_ohm", s.say("col.from"), true}, {"to_ohm", s.say("col.to"), true}, {"count", s.say("col.count"), true}}}
	h, err := stats.NewHistogram(values, 60)
	if err != nil {
		return figure{Title: title, Small: true}
	}
	for i, n := range h.Counts {
		low := h.Low + float64(i)*h.Width
		d.Bins = append(d.Bins, chart.Bin{Low: low, High: low + h.Width, Count: float64(n), Tip: s.whole(n)})
		t.Rows = append(t.Rows, []cell{s.near(low), s.near(low + h.Width), s.count(n)})
	}
	if !math.IsNaN(d.Upper) {
		d.LimitText[1] = s.say("limit.most", s.num(0, d.Upper))
	}
	if !math.IsNaN(d.Lower) {
		d.LimitText[0] = s.say("limit.least", s.num(0, d.Lower))
	}
	return figure{Title: title, Small: true, Chart: d.SVG(), Table: &t, Says: says(s.say("spread.n", s.whole(len(values))))}
}

// capabilities compares all keys.
func (s *study) capabilities(keys []string, byKey map[string][]float64, limits map[string][2]float64) {
	title := s.say("capability.all")
	c := chart.Intervals{Frame: s.frame("ppk", title, s.say("capability.all.desc", len(keys)), 1000, 0), X: chart.Axis{Label: "Ppk"}, Reference: 1.33, ReferenceText: s.num(2, 1.33)}
	t := table{Name: "keys", Caption: title, Columns: []column{{"key", s.say("col.key"), false}, {"n", "n", true}, {"mean_ohm", s.say("col.mean"), true}, {"sd_ohm", s.say("col.sd"), true},
		{"ppk", "Ppk", true}, {"low", s.say("col.low"), true}, {"high", s.say("col.high"), true}, {"p_normal", s.say("col.pnormal"), true}}}
	for _, key := range keys {
		values := byKey[key]
		sum, err := stats.Summarize(values)
		if err != nil {
			continue
		}
		indices, err := stats.NewIndices(sum.Mean, sum.SD, specOf(limits[key]))
		if err != nil {
			continue
		}
		i := stats.CpkInterval(indices.Worst, sum.N, float64(sum.N-1), confidence)
		ad, err := stats.AndersonDarling(values)
		if err != nil {
			ad.P = math.NaN()
		}
		c.Rows = append(c.Rows, chart.Interval{Name: key, Value: indices.Worst, Low: i.Low, High: i.High, Second: math.NaN(), Text: "n " + s.whole(sum.N)})
		t.Rows = append(t.Rows, []cell{{Text: key, Value: key, Link: s.link(s.Plain, map[string][]string{"key": {key}})}, s.count(sum.N), s.near(sum.Mean), s.near(sum.SD),
			s.value(2, indices.Worst), s.value(2, i.Low), s.value(2, i.High), s.chance(ad.P)})
	}
	f := figure{Title: title, Table: &t, Says: says(s.say("capability.all.words"))}
	if len(c.Rows) > 0 {
		f.Chart = c.SVG()
	}
	s.add(f)
}
