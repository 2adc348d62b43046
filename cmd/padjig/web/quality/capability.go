package quality

import (
	"math"
	"slices"
	"strconv"

	"padjig/cmd/padjig/web/page"
	"padjig/results/answers"
	"padjig/results/answers/units"
	"padjig/results/lines"
	"padjig/results/report"
	"padjig/results/report/chart"
)

// capabilityPage says how the spread of each key compares with its limits, and
// looks at one key closely: its distribution first, then its indices.
func capabilityPage(s *study) error {
	keys, err := s.keys()
	if err != nil {
		return err
	}
	key, last := s.param("key", keys[0]), s.asked("last", answers.Last, 30, 5000)
	s.offer(s.named("key", key, keys), s.number("last", strconv.Itoa(last)))
	if !slices.Contains(keys, key) {
		return &lines.MissingKeysError{Missing: []string{key}, Known: keys}
	}
	c, err := answers.AskCapability(s.ctx, s.store, answers.CapabilityAsked{Selection: s.about(), Last: last})
	if err != nil {
		return err
	}
	told := seenFirst(tell(s.Words, c.Conclusions), "capability.unshown", "capability.worst")
	s.Notes = append(s.Notes, slices.DeleteFunc(slices.Clone(told), func(n note) bool { return n.Later })...)
	chosen := c.Rows[slices.IndexFunc(c.Rows, func(k answers.KeyCapability) bool { return k.Key == key })]
	if chosen.Why == nil {
		closer(s, chosen)
	} else if !s.told(chosen.Why) {
		s.note("capability.why", key, chosen.Why)
	}
	capabilities(s, c, slices.DeleteFunc(told, func(n note) bool { return !n.Later }))
	return nil
}

// closer looks at one key: its distribution, the probability plot, its indices.
func closer(s *study, k answers.KeyCapability) {
	h := k.Histogram(60)
	s.add(s.histogram(k.Key, h.Low, h.Width, h.Counts, k.Limits, s.behindBins(k.Key, k.Values, k.Runs, len(h.Counts), h.Bin)))
	title := s.Say("capability.plot")
	curve, line := chart.Curve{Points: true}, chart.Curve{Name: s.Say("capability.line")}
	t := report.Table{Name: "plot", Columns: report.Columns("quantile .4, value ohm .2")}
	points := k.Plot()
	for _, p := range points {
		curve.X, curve.Y = append(curve.X, p.Value), append(curve.Y, p.Quantile)
		t.Rows = append(t.Rows, []any{p.Quantile, p.Value})
	}
	for _, z := range []float64{points[0].Quantile, points[len(points)-1].Quantile} {
		line.X, line.Y = append(line.X, k.Mean+z*k.SD), append(line.Y, z)
	}
	c := chart.Curves{Frame: s.frame("plot", title, s.Say("capability.plot.desc", len(points)), 580, 300),
		X: chart.Axis{Label: s.Say("axis.ohm")},
		Y: chart.Axis{Label: s.Say("axis.sigma")}, Curves: []chart.Curve{curve, line}}
	p := report.Probability(s.Lang, float64(k.NormalP))
	verdict := note{Text: s.Say("capability.normal", p, s.Num(3, k.A2), s.Num(4, k.Straight)), Kind: "say"}
	if k.Method != answers.ByNormal {
		verdict = note{Text: s.Say("capability.notnormal", p, s.Num(3, k.A2), s.Num(4, k.Straight)), Kind: "warn"}
	}
	s.add(figure{Title: title, Small: true, Chart: c.SVG(), Table: s.TableOf(t, title), Says: []note{verdict}})
	indices(s, k)
}

// indices lists those of one key with what each says.
func indices(s *study, k answers.KeyCapability) {
	title := s.Say("capability.title", k.Key)
	t := report.Table{Name: "indices", Columns: report.Columns("index, value .2")}
	for _, one := range []struct {
		name string
		of   answers.Estimate
	}{{"Cp", k.Cp}, {"Cpk", k.Cpk}, {"Pp", k.Pp}, {"Ppk", k.Ppk}} {
		if !math.IsNaN(one.of.Value) {
			t.Rows = append(t.Rows, []any{one.name, one.of})
		}
	}
	out := s.TableOf(t, title)
	out.Open = true
	out.Columns = append(out.Columns, page.Col("means", s.Say("col.means")))
	for i, row := range out.Rows {
		name := row[0].Text
		if name[0] == 'P' && k.Method == answers.ByPercentiles {
			name += ".percentiles"
		}
		out.Rows[i] = append(row, page.Plain(s.Say("index."+name)))
	}
	words := says(s.Say("capability.words", s.Num(3, k.Within), s.Num(3, k.SD), report.Whole(k.N), s.Num(2, k.SD/k.Within)))
	words = append(words, says(s.Say("capability.out", report.Whole(k.Outside+k.NoReading), report.Whole(k.Units()), report.Whole(k.NoReading),
		report.Part(s.Lang, k.Out)))...)
	if math.IsNaN(k.ExpectedPPM) {
		words = append(words, says(s.Say("capability.outside", report.Whole(k.Outside), report.Whole(k.N)))...)
	} else {
		words = append(words, says(s.Say("capability.ppm", report.Whole(k.Outside), report.Whole(k.N),
			s.Num(report.DigitsFor(k.ExpectedPPM), k.ExpectedPPM)))...)
	}
	if k.Method == answers.NoMethod {
		words = append(words, says(s.Say("capability.noppk", report.Whole(k.N), report.Whole(k.Need)))...)
	}
	s.add(figure{Title: title, Table: out, Says: words})
}

// readAt is the choice of the units of some runs at which a key was read.
func readAt(key string, runs [2]int64) lines.Behind {
	b := units.Everything()
	b.Measure, b.Key, b.First, b.Last = lines.Contact, key, runs[0], runs[1]
	return b
}

// behindBins gives the address of the units in each bin of readings. They reach from the
// least reading that is in the bin to the greatest, so that no rounded edge moves one:
// readings are kept to the microohm.
func (s *study) behindBins(key string, values []float64, runs [2]int64, bins int, bin func(float64) int) []string {
	const half = 0.0000005
	least, most, links := make([]float64, bins), make([]float64, bins), make([]string, bins)
	for i := range least {
		least[i], most[i] = math.Inf(1), math.Inf(-1)
	}
	for _, v := range values {
		i := bin(v)
		least[i], most[i] = min(least[i], v-half), max(most[i], v+half)
	}
	for i := range links {
		if least[i] <= most[i] {
			b := readAt(key, runs)
			b.Low, b.High = math.Round(1e7*least[i])/1e7, math.Round(1e7*most[i])/1e7
			links[i] = unitsBehind(s, b)
		}
	}
	return links
}

// histogram is the distribution of single readings of one key, with the address of the
// units in each bin.
func (s *study) histogram(key string, low, width float64, counts []int, limits [2]float64, links []string) figure {
	title, n := s.Say("distributions.key", key), 0
	d := chart.Distribution{X: chart.Axis{Label: s.Say("axis.ohm")}, Y: chart.Axis{Label: s.Say("axis.units")}, Lower: page.OrNone(limits[0]), Upper: page.OrNone(limits[1])}
	t := report.Table{Name: "histogram", Columns: report.Columns("from ohm .3, to ohm .3, count")}
	for i, count := range counts {
		from := low + float64(i)*width
		d.Bins = append(d.Bins, s.bin(from, from+width, count, links[i]))
		t.Rows = append(t.Rows, []any{from, from + width, count})
		n += count
	}
	d.Frame = s.frame("histogram", title, s.Say("distributions.key.desc", key, n), 580, 300)
	if !math.IsNaN(d.Upper) {
		d.LimitText[1] = s.Say("limit.most", s.Num(0, d.Upper))
	}
	if !math.IsNaN(d.Lower) {
		d.LimitText[0] = s.Say("limit.least", s.Num(0, d.Lower))
	}
	return figure{Title: title, Small: true, Chart: d.SVG(), Table: s.TableOf(t, title),
		Says: says(s.Say("distributions.n", report.Whole(n)))}
}

// bin is a bar of a histogram of resistances.
func (s *study) bin(from, to float64, count int, link string) chart.Bin {
	return chart.Bin{Low: from, High: to, Count: float64(count), Link: link,
		Tip: s.Near(from) + "–" + s.Near(to) + " " + s.Say("axis.ohm") + "\n" + s.Say("axis.units") + ": " + report.Whole(count)}
}

// capabilities compares all keys.
func capabilities(s *study, a answers.Capability, also []note) {
	title := s.Say("capability.all")
	c := chart.Intervals{Frame: s.frame("ppk", title, s.Say("capability.all.desc", len(a.Rows)), 1000, 0),
		X:         chart.Axis{Label: "Ppk"},
		Reference: answers.GoodPpk, ReferenceText: s.Num(2, answers.GoodPpk)}
	t := s.TableOf(report.CapabilityTable(a), title)
	for i, k := range a.Rows {
		t.Rows[i][0].Link = s.link(s.Plain, map[string][]string{"key": {k.Key}})
		if k.Why == nil && k.Method != answers.NoMethod {
			c.Rows = append(c.Rows, chart.Interval{Name: k.Key, Value: k.Ppk.Value, Low: k.Ppk.Low, High: k.Ppk.High,
				Second: math.NaN(), Text: "n " + report.Whole(k.N) + " · " + report.OutText(s.Lang, k), Link: unitsBehind(s, readAt(k.Key, k.Runs)),
				Tip: k.Key + "\nPpk " + s.Num(2, k.Ppk.Value) + " (" + s.Num(2, k.Ppk.Low) + "–" + s.Num(2, k.Ppk.High) + ")\nn " + report.Whole(k.N) +
					" · " + report.OutText(s.Lang, k)})
		}
	}
	f := figure{Title: title, Table: t, Says: append(says(s.Say("capability.all.words")), also...)}
	if len(c.Rows) > 0 {
		f.Chart = c.SVG()
	}
	s.add(f)
}
