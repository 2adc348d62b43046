package web

import (
	"math"
	"net/url"

	"padjig/results"
	"padjig/results/report/chart"
	"padjig/results/stats"
)

// overviewPage is where the quality engineer looks first: every product with
// its yield, and what asks for a closer look.
var overviewPage = withMenu(studyPage("", "overview", func(s *study) error {
	if err := s.byProduct(); err != nil {
		return err
	}
	if err := s.days(); err != nil {
		return err
	}
	return s.attention()
}), "menu.quality")

func withMenu(p page, key string) page {
	p.menu = key
	return p
}

// byProduct shows each product, and each revision of it.
func (s *study) byProduct() error {
	y, err := s.site.Store.Yields(s.ctx(), s.filter, results.ByProduct, results.ByRevision)
	if err != nil {
		return err
	}
	f, err := s.yieldFigure("products", y.Rows, s.say("overview.products"), 2)
	if err != nil {
		return err
	}
	for i, row := range y.Rows {
		f.Table.Rows[i][0].Link = s.link("/quality/yield", url.Values{"product": {row.Groups[0]}})
	}
	f.Says = s.yieldWords(y.Total)
	s.add(f)
	return nil
}

// yieldWords say in a sentence what came of the units.
func (s *study) yieldWords(c results.Counts) []note {
	if c.Units == 0 {
		return says(s.say("yield.nothing"))
	}
	first, last := s.partOf(c.FirstPassed, c.Units), s.partOf(c.LastPassed, c.Units)
	out := says(s.say("yield.words", first, last, s.whole(c.Units)))
	if c.Retests > 0 {
		out = append(out, note{Text: s.say("yield.retests", s.whole(c.Retests), s.whole(c.Cures), s.whole(c.Relapses)), Kind: "say"})
	}
	return out
}

// partOf writes x of n in per cent with its interval.
func (s *study) partOf(x, n int) string {
	if n == 0 {
		return "–"
	}
	i, err := stats.Wilson(x, n, confidence)
	if err != nil {
		return "–"
	}
	share := 100 * float64(x) / float64(n)
	digits := shareDigits(100*i.Low, 100*i.High)
	return s.say("part.of", s.num(digits, share), s.num(digits, 100*i.Low), s.num(digits, 100*i.High))
}

// shareDigits are as many as an interval in per cent leaves meaning to.
func shareDigits(low, high float64) int {
	switch wide := high - low; {
	case wide >= 5:
		return 0
	case wide >= 0.5:
		return 1
	default:
		return 2
	}
}

// days shows the yield of each day.
func (s *study) days() error {
	y, err := s.site.Store.Yields(s.ctx(), s.filter, results.ByDay)
	if err != nil {
		return err
	}
	rows := y.Rows[max(0, len(y.Rows)-mostDays):]
	curve := chart.Curve{Both: true, Name: s.say("yield.first")}
	c := chart.Curves{
		Frame: s.frame("days", s.say("yield.days"), s.say("yield.days.desc", len(rows)), 1180, 240),
		Y:     chart.Axis{Label: s.say("axis.percent")}, X: chart.Axis{Label: s.say("axis.day")},
	}
	for i, row := range rows {
		share, low, high := wilson(row.FirstPassed, row.Units)
		curve.X, curve.Y = append(curve.X, float64(i)), append(curve.Y, 100*share)
		curve.Low, curve.High = append(curve.Low, 100*low), append(curve.High, 100*high)
		curve.Tips = append(curve.Tips, row.Groups[0]+": "+s.partOf(row.FirstPassed, row.Units)+", n "+s.whole(row.Units))
		c.XNames = append(c.XNames, chart.Name{X: float64(i), Text: row.Groups[0][5:]})
	}
	c.Curves = []chart.Curve{curve}
	t := s.yieldTable("days", s.say("yield.days"), rows, s.say("axis.day"))
	s.add(figure{Title: s.say("yield.days"), Chart: c.SVG(), Table: &t})
	return nil
}

// mostDays is how many days a chart of them holds.
const mostDays = 92

func wilson(x, n int) (share, low, high float64) {
	i, err := stats.Wilson(x, n, confidence)
	if err != nil {
		return math.NaN(), math.NaN(), math.NaN()
	}
	return float64(x) / float64(n), i.Low, i.High
}

// attention lists what a look should be taken at, the worst first.
func (s *study) attention() error {
	f := figure{Title: s.say("overview.attention"), Says: []note{}}
	stops, err := s.stopNotes()
	if err != nil {
		return err
	}
	f.Says = append(f.Says, stops...)
	places, err := s.localPlaces()
	if err != nil {
		return err
	}
	for _, p := range places {
		if p.local && len(f.Says) < 8 {
			f.Says = append(f.Says, note{Text: s.say("places.local", p.Name, p.Jig, s.whole(p.Hits), s.whole(p.Units),
				s.whole(p.OtherHits), s.whole(p.OtherUnits)), Kind: "warn"})
		}
	}
	if len(f.Says) == 0 {
		f.Says = says(s.say("overview.calm"))
	}
	s.add(f)
	return nil
}
