package quality

import (
	"html/template"
	"math"
	"strconv"

	"padjig/cmd/padjig/web/page"
	"padjig/results/answers"
	"padjig/results/answers/units"
	"padjig/results/lines"
	"padjig/results/report"
	"padjig/results/report/chart"
)

// distributionsPage shows how a measure is distributed at every key, pin or step: contact
// resistance with its limits and guard bands from the sums over all runs chosen, others from
// the newest runs.
func distributionsPage(s *study) error {
	measure := s.param("measure", string(lines.Contact))
	if _, err := lines.ParseMeasure(measure); err != nil {
		return page.Wrong(s.Say("charts.unknown"))
	}
	s.offer(s.one("measure", measure, texts(lines.Measures)...))
	q := answers.DistributionsAsked{Selection: s.about(), Measure: lines.Measure(measure)}
	if q.Measure != lines.Contact {
		q.Last = s.asked("last", answers.Last, 20, 20000)
		s.offer(s.number("last", strconv.Itoa(q.Last)))
	}
	d, err := answers.AskDistributions(s.ctx, s.store, q)
	if err != nil {
		return err
	}
	allKeys(s, d)
	everyKey(s, d)
	return nil
}

// allKeys compares the keys on one scale.
func allKeys(s *study, d answers.Distributions) {
	title := s.Say("distributions.title")
	c := chart.Spreads{Frame: s.frame("spreads", title, s.Say("distributions.desc", len(d.Rows)), 1000, 0),
		X: scaleOf(d.Measure), Limits: report.LimitNames(s.Lang)}
	for _, k := range d.Rows {
		row := report.Spread(k.Name, k.Quantiles, k.Limits, "n "+report.Whole(k.N))
		row.GuardLower, row.GuardUpper, row.N = k.Guard, k.Guard, k.N
		row.Tip = k.Name + "\n" + s.Say("distributions.tip", s.Near(k.Quantiles.P5), s.Near(k.Quantiles.Median), s.Near(k.Quantiles.P95),
			d.Measure.Unit()) + "\nn " + report.Whole(k.N)
		row.Link = withReading(s, d.Measure, k.Name, math.NaN(), math.NaN())
		c.Rows = append(c.Rows, row)
	}
	t := s.TableOf(report.DistributionTable("distributions", "key", d.Measure, d.Rows), title)
	t.Open = true
	s.add(figure{Title: title, Chart: c.SVG(), Table: t, Says: append(seenFirst(tell(s.Words, d.Conclusions)),
		says(s.Say("distributions.legend"))...)})
}

// scaleOf is the axis of a measure.
func scaleOf(m lines.Measure) chart.Axis { return chart.Axis{Label: m.Unit(), Log: report.LogAxis(m)} }

// subject names what a measure is read at.
func (s *study) subject(m lines.Measure, name string) string {
	if m.OfKeys() {
		return s.Say("distributions.key", name)
	}
	return report.Measured(s.Lang, m) + ": " + name
}

// withReading is the address of the units with a reading of a key, in a range or all.
func withReading(s *study, m lines.Measure, key string, low, high float64) string {
	if lines.MeasureColumns[m][0] == "" {
		return ""
	}
	b := units.Everything()
	b.Measure, b.Key, b.Low, b.High = m, key, low, high
	return unitsBehind(s, b)
}

// everyKey draws each key's distribution, all on the same scale.
func everyKey(s *study, a answers.Distributions) {
	axis := scaleOf(a.Measure)
	axis.From, axis.To = span(a.Rows)
	unit := " " + a.Measure.Unit()
	f := figure{Title: s.Say("distributions.each"), Says: says(s.Say("distributions.each.words"))}
	for i, k := range a.Rows {
		d := chart.Distribution{
			Frame: s.frame("key"+letter(i), s.subject(a.Measure, k.Name), s.Say("distributions.key.desc", k.Name, k.N), 262,
				160), X: axis, Y: chart.Axis{Label: s.Say("axis.units")},
			Lower: page.OrNone(k.Limits[0]), Upper: page.OrNone(k.Limits[1]), GuardLower: k.Guard, GuardUpper: k.Guard,
		}
		for _, b := range k.Bins {
			bin := chart.Bin{Low: b.From, High: b.To, Count: float64(b.Count),
				Tip: s.Near(b.From) + "–" + s.Near(b.To) + unit + "\n" + s.Say("axis.units") + ": " + report.Whole(int(b.Count))}
			if a.Measure == lines.Contact { // others are of the newest units only
				bin.Link = withReading(s, a.Measure, k.Name, b.From, b.To)
			}
			d.Bins = append(d.Bins, bin)
		}
		d.Quiet, d.Narrow = false, 0
		for i, limit := range []float64{d.Lower, d.Upper} {
			if !math.IsNaN(limit) {
				d.LimitText[i] = report.Limit(s.Lang, limit) + unit
			}
		}
		if k.Over > 0 {
			d.Beyond = s.Say("distributions.beyond", report.Whole(k.Over))
		}
		f.Many = append(f.Many, template.HTML(d.SVG()))
	}
	f.Table = s.TableOf(report.BinTable(a.Measure, a.Rows), f.Title)
	s.add(f)
}

// span finds one scale for all keys and their limits.
func span(rows []answers.Distribution) (from, to float64) {
	from, to = math.Inf(1), 0
	for _, k := range rows {
		if k.N > 0 {
			from, to = min(from, k.Nearly[0]), max(to, k.Nearly[1])
		}
		if k.Limits[0] > 0 {
			from = min(from, k.Limits[0])
		}
		to = max(to, k.Limits[1])
	}
	if !(from < to) || from <= 0 {
		return max(to, 1) / 100, max(to, 1)
	}
	return from / 1.05, to * 1.1
}
