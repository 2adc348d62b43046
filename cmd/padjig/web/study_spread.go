package web

import (
	"html/template"
	"math"
	"slices"

	"padjig/results"
	"padjig/results/report/chart"
)

// spreadPage shows how the closed resistance of every key is distributed, with
// its limits and guard bands, from the sums over all runs chosen.
var spreadPage = studyPage("/spread", "spread", func(s *study) error {
	piles, err := s.site.Store.KeyPiles(s.ctx(), s.filter)
	if err != nil {
		return err
	}
	guards, err := s.guards()
	if err != nil {
		return err
	}
	s.allKeys(piles, guards)
	s.everyKey(piles, guards)
	return nil
})

// guards gives the width of each key's guard band in ohm: the product's factor
// times the expanded uncertainty of the newest readings, in the middle.
func (s *study) guards() (map[string]float64, error) {
	pad, err := s.site.Store.Pad(s.ctx(), s.filter)
	if err != nil {
		return nil, err
	}
	series, err := s.site.Store.Readings(s.ctx(), s.filter, results.Closed, nil, newestForU)
	if err != nil {
		return nil, err
	}
	u := map[string][]float64{}
	for _, p := range series.Points {
		u[p.Key] = append(u[p.Key], p.U)
	}
	out := map[string]float64{}
	for _, k := range pad {
		if list := u[k.Label]; len(list) > 0 {
			slices.Sort(list)
			out[k.Label] = k.Guard * 2 * list[len(list)/2]
		}
	}
	return out, nil
}

// newestForU is how many units tell what the uncertainty of a reading is now.
const newestForU = 100

// orNone is a limit of 0, which means none.
func orNone(limit float64) float64 {
	if limit == 0 {
		return math.NaN()
	}
	return limit
}

// allKeys compares the keys on one scale.
func (s *study) allKeys(piles []results.KeyPile, guards map[string]float64) {
	title := s.say("spread.title")
	c := chart.Spreads{Frame: s.frame("spreads", title, s.say("spread.desc", len(piles)), 1000, 0), X: chart.Axis{Label: s.say("axis.ohm"), Log: true}}
	t := table{Name: "spread", Caption: title, Open: true, Columns: []column{{"key", s.say("col.key"), false}, {"n", "n", true},
		{"mean_ohm", s.say("col.mean"), true}, {"mean_low", s.say("col.low"), true}, {"mean_high", s.say("col.high"), true}, {"sd_ohm", s.say("col.sd"), true},
		{"least_ohm", s.say("col.least"), true}, {"p5_ohm", "5 %", true}, {"median_ohm", s.say("col.median"), true}, {"p95_ohm", "95 %", true}, {"most_ohm", s.say("col.most"), true},
		{"limit_low_ohm", s.say("col.lower"), true}, {"limit_high_ohm", s.say("col.upper"), true}, {"guard_ohm", s.say("col.guard"), true}, {"beyond", s.say("col.beyond"), true}}}
	for _, k := range piles {
		q := func(p float64) float64 { return pileQuantile(k.Pile, p) }
		mean, m2 := k.Moments()
		sd := math.NaN()
		if k.N > 1 {
			sd = math.Sqrt(m2 / float64(k.N-1))
		}
		half := 1.959964 * sd / math.Sqrt(float64(k.N)) // n is large enough here for the normal quantile, or the interval is wide anyway
		if k.N == 0 {
			mean, half = math.NaN(), math.NaN()
		}
		lower, upper, guard := orNone(k.Limits[0]), orNone(k.Limits[1]), guards[k.Key]
		least, most := float64(k.Least)/1000, float64(k.Most)/1000
		if k.N == 0 {
			least, most = math.NaN(), math.NaN()
		}
		c.Rows = append(c.Rows, chart.Spread{Name: k.Key, Least: least, P5: q(.05), P25: q(.25), P50: q(.5), P75: q(.75), P95: q(.95), Most: most,
			Lower: lower, Upper: upper, GuardLower: guard, GuardUpper: guard, Text: "n " + s.whole(int(k.N)),
			Tip: k.Key + ": " + s.near(q(.5)).Text + " Ω"})
		t.Rows = append(t.Rows, []cell{plainWords(k.Key), s.count(int(k.N)), s.near(mean), s.near(mean - half), s.near(mean + half), s.near(sd),
			s.near(least), s.near(q(.05)), s.near(q(.5)), s.near(q(.95)), s.near(most), s.near(lower), s.near(upper), s.near(guard), s.count(int(k.Beyond))})
	}
	s.add(figure{Title: title, Chart: c.SVG(), Table: &t, Says: says(s.say("spread.words"))})
}

// pileQuantile is the value below which a share p of a pile lies, on a straight
// line within a bin; NaN for an empty pile.
func pileQuantile(p results.Pile, share float64) float64 {
	if p.N == 0 {
		return math.NaN()
	}
	want, below := share*float64(p.N), 0.0
	for i, n := range p.Bins {
		if n > 0 && below+float64(n) >= want {
			from, to := results.BinEdges(p.First + i)
			at := from + (to-from)*(want-below)/float64(n)
			return min(max(at, float64(p.Least)/1000), float64(p.Most)/1000)
		}
		below += float64(n)
	}
	return float64(p.Most) / 1000
}

// everyKey draws each key's distribution, all on the same scale.
func (s *study) everyKey(piles []results.KeyPile, guards map[string]float64) {
	axis := chart.Axis{Label: s.say("axis.ohm"), Log: true}
	axis.From, axis.To = pilesSpan(piles)
	f := figure{Title: s.say("spread.each"), Says: says(s.say("spread.each.words"))}
	t := table{Name: "bins", Caption: f.Title, Columns: []column{{"key", s.say("col.key"), false}, {"from_ohm", s.say("col.from"), true}, {"to_ohm", s.say("col.to"), true}, {"count", s.say("col.count"), true}}}
	for i, k := range piles {
		lower, upper := orNone(k.Limits[0]), orNone(k.Limits[1])
		d := chart.Distribution{
			Frame: s.frame("key"+letter(i), s.say("spread.key", k.Key), s.say("spread.key.desc", k.Key, k.N), 300, 150), X: axis,
			Lower: lower, Upper: upper, GuardLower: guards[k.Key], GuardUpper: guards[k.Key], Bins: s.bins(k.Pile),
		}
		d.Quiet = false
		if !math.IsNaN(upper) {
			d.LimitText[1] = s.num(0, upper) + " Ω"
		}
		if k.Beyond > 0 {
			d.Beyond = s.say("spread.beyond", s.whole(int(k.Beyond)))
		}
		f.Many = append(f.Many, template.HTML(d.SVG()))
		for _, b := range d.Bins {
			if b.Count > 0 {
				t.Rows = append(t.Rows, []cell{plainWords(k.Key), s.near(b.Low), s.near(b.High), s.count(int(b.Count))})
			}
		}
	}
	f.Table = &t
	s.add(f)
}

// pilesSpan finds one scale for all piles and their limits: nearly all readings,
// and the limits they keep to.
func pilesSpan(piles []results.KeyPile) (from, to float64) {
	from, to = math.Inf(1), 0
	for _, k := range piles {
		if k.N > 0 {
			from, to = min(from, pileQuantile(k.Pile, 0.0005)), max(to, pileQuantile(k.Pile, 0.9995))
		}
		to = max(to, k.Limits[1])
	}
	if !(from < to) || from <= 0 {
		return max(to, 1) / 100, max(to, 1)
	}
	return from / 1.05, to * 1.1
}

// bins puts bins together until they are about forty at most.
func (s *study) bins(p results.Pile) []chart.Bin {
	used := 0
	for _, n := range p.Bins {
		if n > 0 {
			used++
		}
	}
	together := 1
	for used/together > 40 || p.N < 400 && together < 4 {
		together *= 2
	}
	var out []chart.Bin
	for at := 0; at < len(p.Bins); at += together {
		last := min(at+together, len(p.Bins)) - 1
		count := int64(0)
		for _, n := range p.Bins[at : last+1] {
			count += n
		}
		from, _ := results.BinEdges(p.First + at)
		_, to := results.BinEdges(p.First + last)
		if count > 0 {
			out = append(out, chart.Bin{Low: from, High: to, Count: float64(count),
				Tip: s.near(from).Text + "–" + s.near(to).Text + " Ω: " + s.whole(int(count))})
		}
	}
	return out
}
