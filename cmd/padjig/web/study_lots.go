package web

import (
	"net/url"
	"slices"

	"padjig/results"
	"padjig/results/report/chart"
)

// lotsPage shows what came of each lot of a material, and how a key reads in it.
var lotsPage = studyPage("/lots", "lots", func(s *study) error {
	material := s.param("material", results.Materials[0])
	if !slices.Contains(results.Materials, material) {
		return wrong(s.say("charts.unknown"))
	}
	keys, err := s.keys()
	if err != nil {
		return err
	}
	key := s.param("key", keys[0])
	s.Own = append(s.Own, s.one("material", material, results.Materials...), s.named("key", key, keys))
	s.pooled("")
	y, err := s.site.Store.Yields(s.ctx(), s.filter, results.By(material))
	if err != nil {
		return err
	}
	slices.SortStableFunc(y.Rows, func(a, b results.Yield) int { return int(a.FirstRun - b.FirstRun) })
	rows := y.Rows[max(0, len(y.Rows)-mostLots):]
	if len(rows) < len(y.Rows) {
		s.warn("yield.newest", len(rows), len(y.Rows))
	}
	f, err := s.yieldFigure("lots", rows, s.say("lots.yield", s.say("ask.material."+material)), 1)
	if err != nil {
		return err
	}
	for i, row := range rows {
		if row.Groups[0] != "" {
			f.Table.Rows[i][0].Link = s.link("/quality/yield", url.Values{"lot": {row.Groups[0]}})
		}
	}
	f.Says = append(f.Says, s.homogeneous(rows)...)
	s.add(f)
	if err := s.lotReadings(results.By(material), key, rows); err != nil {
		return err
	}
	return s.changeovers()
})

// mostLots is how many lots the page shows, the newest.
const mostLots = 24

// lotReadings shows the distribution of one key in each lot.
func (s *study) lotReadings(by results.By, key string, rows []results.Yield) error {
	title := s.say("lots.readings", key)
	c := chart.Spreads{Frame: s.frame("lotspread", title, s.say("spread.desc", len(rows)), 1000, 0), X: chart.Axis{Label: s.say("axis.ohm"), Log: true}}
	t := table{Name: "lotspread", Caption: title, Columns: []column{{"lot", s.say("col.group"), false}, {"n", "n", true}, {"mean_ohm", s.say("col.mean"), true},
		{"p5_ohm", "5 %", true}, {"median_ohm", s.say("col.median"), true}, {"p95_ohm", "95 %", true}}}
	piles, limits, err := s.site.Store.GroupPiles(s.ctx(), s.filter, by, key)
	if err != nil {
		text, known := s.why(err)
		if known {
			s.Notes = append(s.Notes, note{Text: title + ": " + text, Kind: "wrong"})
			return nil
		}
		return err
	}
	for _, row := range rows {
		lot := row.Groups[0]
		k, known := piles[lot]
		if lot == "" || !known {
			continue
		}
		q := func(p float64) float64 { return pileQuantile(*k, p) }
		mean, _ := k.Moments()
		c.Rows = append(c.Rows, chart.Spread{Name: lot, Least: q(0), P5: q(.05), P25: q(.25), P50: q(.5), P75: q(.75), P95: q(.95), Most: q(1),
			Lower: orNone(limits[0]), Upper: orNone(limits[1]), Text: "n " + s.whole(int(k.N))})
		t.Rows = append(t.Rows, []cell{plainWords(lot), s.count(int(k.N)), s.near(mean), s.near(q(.05)), s.near(q(.5)), s.near(q(.95))})
	}
	if len(c.Rows) > 0 {
		s.add(figure{Title: title, Chart: c.SVG(), Table: &t, Says: says(s.say("lots.words"))})
	}
	return nil
}

// changeovers lists when lots were changed.
func (s *study) changeovers() error {
	happenings, err := s.site.Store.Happenings(s.ctx(), s.filter)
	if err != nil {
		return err
	}
	t := table{Name: "changes", Caption: s.say("lots.changes"), Open: true, Columns: []column{{"at", s.say("col.at"), false}, {"jig", s.say("col.jig"), false},
		{"what", s.say("col.what"), false}, {"after_run", s.say("col.afterrun"), true}}}
	for _, h := range happenings {
		if h.Kind == "lot" {
			t.Rows = append(t.Rows, []cell{{Text: s.moment(h.At), Value: h.At}, plainWords(h.Jig), {Text: h.Text, Value: h.Text, Lang: "en"}, s.count(int(h.AfterRun))})
		}
	}
	slices.Reverse(t.Rows)
	f := figure{Title: s.say("lots.changes"), Table: &t, Says: says(s.say("lots.changes.words", len(t.Rows)))}
	s.add(f)
	return nil
}
