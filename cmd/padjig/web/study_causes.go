package web

import (
	"math"

	"padjig/results"
	"padjig/results/report/chart"
	"padjig/results/stats"
)

// causesPage shows what failed, where on the pad, and whether it is the jig.
var causesPage = studyPage("/causes", "causes", func(s *study) error {
	by := results.CauseBy(s.param("cause", string(results.CauseByPlace)))
	names := make([]string, len(results.CauseBys))
	known := false
	for i, b := range results.CauseBys {
		names[i] = string(b)
		known = known || b == by
	}
	if !known {
		by = results.CauseByPlace
	}
	s.Own = append(s.Own, s.one("cause", string(by), names...))
	s.pooled("")
	causes, err := s.site.Store.Causes(s.ctx(), s.filter, by)
	if err != nil {
		return err
	}
	s.add(s.pareto(causes, by))
	if err := s.heat(); err != nil {
		return err
	}
	return s.jigPlaces()
})

// pareto draws causes, most units first.
func (s *study) pareto(c results.Causes, by results.CauseBy) figure {
	title := s.say("causes.by", s.say("ask.cause."+string(by)))
	bars := chart.Bars{Frame: s.frame("pareto", title, s.say("causes.desc", len(c.Rows), c.Failed), 1000, 0), X: chart.Axis{Label: s.say("causes.axis")}}
	t := table{Name: "causes", Caption: title, Open: len(c.Rows) > 0, Columns: []column{
		{"cause", s.say("col.cause"), false}, {"units_worst", s.say("col.worst"), true}, {"percent_of_failed", s.say("col.offailed"), true},
		{"cumulative_percent", s.say("col.cumulative"), true}, {"per_million", s.say("col.ppm"), true}, {"low", s.say("col.low"), true}, {"high", s.say("col.high"), true},
		{"findings", s.say("col.findings"), true}, {"findings_all_runs", s.say("col.findingsall"), true},
	}}
	sum := 0
	for i, row := range c.Rows {
		sum += row.Worst
		count, _ := stats.CountInterval(row.Worst, confidence)
		share, low, high := wilson(row.Worst, c.Units)
		ofFailed, cumulative := float64(row.Worst)/float64(max(c.Failed, 1)), float64(sum)/float64(max(c.Failed, 1))
		if i < mostBars {
			bars.Bars = append(bars.Bars, chart.Bar{Name: row.Name, Value: float64(row.Worst), Low: count.Low, High: count.High,
				Text: s.whole(row.Worst) + " · " + s.num(1, 100*ofFailed) + " % · " + s.num(0, 100*cumulative) + " %",
				Tip:  row.Name + ": " + s.whole(row.Worst)})
		}
		t.Rows = append(t.Rows, []cell{{Text: row.Name, Value: row.Name, Lang: "en"}, s.count(row.Worst), s.share(1, ofFailed), s.share(1, cumulative),
			s.value(0, 1e6*share), s.value(0, 1e6*low), s.value(0, 1e6*high), s.count(row.Units), s.count(row.Runs)})
	}
	f := figure{Title: title, Table: &t, Says: says(s.say("causes.words", s.whole(c.Failed), s.whole(c.Units)))}
	if c.Failed == 0 {
		f.Says = says(s.say("causes.none", s.whole(c.Units), s.partOf(0, c.Units)))
	}
	if len(bars.Bars) > 0 {
		f.Chart = bars.SVG()
	}
	if len(c.Rows) > mostBars {
		f.Says = append(f.Says, note{Text: s.say("causes.more", mostBars, len(c.Rows)), Kind: "say"})
	}
	return f
}

// mostBars is how many causes the chart shows; the table has all.
const mostBars = 15

// heat puts the findings on the pad's drawing.
func (s *study) heat() error {
	if len(s.mixed.Products) > 1 {
		s.add(figure{Title: s.say("heat.title"), Says: says(s.say("why.products", ""))})
		return nil
	}
	keys, err := s.site.Store.Pad(s.ctx(), s.filter)
	if err != nil {
		return err
	}
	causes, err := s.site.Store.Causes(s.ctx(), s.filter, results.CauseByKey)
	if err != nil {
		return err
	}
	hits := map[string]results.Cause{}
	for _, c := range causes.Rows {
		hits[c.Name] = c
	}
	title := s.say("heat.title")
	pad := chart.Pad{Frame: s.frame("heat", title, s.say("heat.desc"), 700, 0), Scale: [2]string{"0", ""}}
	t := table{Name: "keys", Caption: title, Columns: []column{{"key", s.say("col.key"), false}, {"findings", s.say("col.findings"), true},
		{"per_million", s.say("col.ppm"), true}, {"low", s.say("col.low"), true}, {"high", s.say("col.high"), true}, {"units", s.say("col.units"), true}}}
	most := 0
	for _, k := range keys {
		n := hits[k.Label].Units
		most = max(most, n)
		share, low, high := wilson(min(n, causes.Units), causes.Units)
		pad.Keys = append(pad.Keys, chart.PadKey{Label: k.Label, X: k.X, Y: k.Y, W: k.W, H: k.H, Value: float64(n), Text: s.whole(n),
			Tip: s.say("heat.tip", k.Label, s.whole(n), s.whole(causes.Units))})
		t.Rows = append(t.Rows, []cell{plainWords(k.Label), s.count(n), s.value(0, 1e6*share), s.value(0, 1e6*low), s.value(0, 1e6*high), s.count(causes.Units)})
	}
	pad.Scale[1] = s.say("heat.most", s.whole(most))
	s.add(figure{Title: title, Chart: pad.SVG(), Small: true, Table: &t, Says: says(s.say("heat.words", s.whole(causes.Units)))})
	return nil
}

// place is a place on one jig, held against the same place on all others.
type place struct {
	results.PlaceOnJig
	fisher   stats.FisherTest
	adjusted float64 // after Holm, over all places looked at
	local    bool
	looked   int // its place among them
	of       int // how many they are
}

// localPlaces compares every place that came up on a jig with the other jigs.
func (s *study) localPlaces() ([]place, error) {
	list, err := s.site.Store.Places(s.ctx(), s.filter, leastHits)
	if err != nil {
		return nil, err
	}
	var out []place
	var p []float64
	for _, at := range list {
		// A place no more frequent here than elsewhere is not local, and counts
		// as looked at.
		if at.OtherUnits == 0 || at.Hits*at.OtherUnits <= at.OtherHits*at.Units || len(out) == mostPlaces {
			p = append(p, 1)
			continue
		}
		test, err := stats.Fisher(stats.Table2{{at.Hits, at.Units - at.Hits}, {at.OtherHits, at.OtherUnits - at.OtherHits}}, confidence)
		if err != nil {
			return nil, err
		}
		out, p = append(out, place{PlaceOnJig: at, fisher: test, looked: len(p), of: len(list)}), append(p, test.Greater)
	}
	adjusted := stats.Holm(p)
	for i := range out {
		out[i].adjusted = adjusted[out[i].looked]
		out[i].local = out[i].adjusted < level
	}
	return out, nil
}

// A place that came up twice is nothing to compare yet; more places than this
// nobody reads.
const leastHits, mostPlaces = 3, 12

// jigPlaces shows the places on one jig beside the same on all others.
func (s *study) jigPlaces() error {
	places, err := s.localPlaces()
	if err != nil {
		return err
	}
	title := s.say("places.title")
	f := figure{Title: title, Small: true}
	c := chart.Intervals{Frame: s.frame("places", title, s.say("places.desc"), 700, 0), X: chart.Axis{Label: s.say("axis.ppm")}, Reference: math.NaN()}
	t := table{Name: "places", Caption: title, Columns: []column{
		{"place", s.say("col.cause"), false}, {"jig", s.say("col.jig"), false}, {"hits", s.say("col.hits"), true}, {"units", s.say("col.units"), true},
		{"hits_elsewhere", s.say("col.otherhits"), true}, {"units_elsewhere", s.say("col.otherunits"), true},
		{"odds_ratio", s.say("col.odds"), true}, {"odds_low", s.say("col.low"), true}, {"odds_high", s.say("col.high"), true},
		{"p_adjusted", s.say("col.padjusted"), true}}}
	for _, p := range places {
		share, low, high := wilson(p.Hits, p.Units)
		other, otherLow, otherHigh := wilson(p.OtherHits, p.OtherUnits)
		c.Rows = append(c.Rows, chart.Interval{Name: p.Jig + " · " + p.Name, Value: 1e6 * share, Low: 1e6 * low, High: 1e6 * high,
			Second: 1e6 * other, SecondLow: 1e6 * otherLow, SecondHigh: 1e6 * otherHigh, Text: s.whole(p.Hits)})
		t.Rows = append(t.Rows, []cell{{Text: p.Name, Value: p.Name, Lang: "en", Mark: p.local}, plainWords(p.Jig), s.count(p.Hits), s.count(p.Units),
			s.count(p.OtherHits), s.count(p.OtherUnits), s.near(p.fisher.OddsRatio), s.near(p.fisher.Odds.Low), s.near(p.fisher.Odds.High), s.chance(p.adjusted)})
		if p.local {
			f.Says = append(f.Says, note{Text: s.say("places.local", p.Name, p.Jig, s.whole(p.Hits), s.whole(p.Units), s.whole(p.OtherHits), s.whole(p.OtherUnits)), Kind: "warn"})
		}
	}
	f.Says = append(f.Says, says(s.say("places.words", leastHits, comparedPlaces(places)))...)
	if len(c.Rows) > 0 {
		f.Chart, f.Table = c.SVG(), &t
	}
	s.add(f)
	return nil
}

func comparedPlaces(places []place) int {
	if len(places) == 0 {
		return 0
	}
	return places[0].of
}
