package answers

import (
	"cmp"
	"context"
	"math"
	"slices"

	"padjig/results"
	"padjig/results/hourly"
	"padjig/results/lines"
	"padjig/results/stats"
)

// DistributionsAsked asks how a measure is distributed, key by key or pin by pin or step
// by step.
type DistributionsAsked struct {
	Selection
	Measure lines.Measure // empty: contact resistance, from sums over all runs
	Keys    KeyChoice
	Last    int // newest units that other measures are read from; 0: [Last]
}

// Distributions is the answer.
type Distributions struct {
	DistributionsAsked
	Rows        []Distribution
	Conclusions []Sentence
}

// Distribution is the measure of one key or of one lot, in its unit.
type Distribution struct {
	Name      string
	N, Over   int
	Mean      Estimate
	SD        float64
	Quantiles Quantiles
	Nearly    [2]float64 // nearly all: the 0.05 and 99.95 % points
	Limits    [2]float64 // 0 for none
	Guard     float64    // width of the guard band at the uncertainty of the newest readings
	Bins      []Bin
}

// Bin is how many readings lie between two values.
type Bin struct {
	From, To float64
	Count    int64
}

// AskDistributions sums up every key.
func AskDistributions(ctx context.Context, s *results.Store, a DistributionsAsked) (Distributions, error) {
	a.Measure, a.Last = cmp.Or(a.Measure, lines.Contact), cmp.Or(a.Last, Last)
	d := Distributions{DistributionsAsked: a}
	if a.Measure != lines.Contact {
		return d, d.read(ctx, s)
	}
	pad, err := s.Lines.Pad(ctx, a.Filter)
	if err != nil {
		return d, err
	}
	labels, err := a.Keys.In(pad)
	if err != nil {
		return d, err
	}
	histograms, err := s.Lines.KeyHistograms(ctx, a.Filter, labels...)
	if err != nil {
		return d, err
	}
	guards, err := a.guards(ctx, s, pad)
	if err != nil {
		return d, err
	}
	over := 0
	for _, k := range histograms {
		row := a.distribution(k.Key, k.Histogram, k.Limits)
		row.Guard = guards[k.Key]
		d.Rows, over = append(d.Rows, row), over+row.Over
	}
	d.Conclusions = []Sentence{Say("distributions.words")}
	if over > 0 {
		d.Conclusions = append(d.Conclusions, Warn("charts.over", over))
	}
	return d, nil
}

// read distributes what no sums are kept of.
func (d *Distributions) read(ctx context.Context, s *results.Store) error {
	read, err := d.Selection.Read(ctx, s, d.Measure, d.Keys, d.Last)
	if err != nil {
		return err
	}
	for _, k := range read.byKey() {
		d.Rows = append(d.Rows, d.ofValues(k))
	}
	d.Conclusions = append(MeasureWords(read, d.Measure), Say("distributions.read", d.Last))
	if read.Beyond > 0 {
		d.Conclusions = append(d.Conclusions, Warn("charts.over", read.Beyond))
	}
	return nil
}

func (s Selection) ofValues(k keyReadings) Distribution {
	d := Distribution{Name: k.Key, N: len(k.Values), Over: k.Over, Limits: k.Limits, Mean: Unknown(), SD: math.NaN(),
		Quantiles: quantiles(k.Values)}
	d.Nearly = [2]float64{d.Quantiles.Least, d.Quantiles.Most}
	if d.N == 0 {
		return d
	}
	sum, squares := 0.0, 0.0
	for _, v := range k.Values {
		sum += v
	}
	d.Mean.Value = sum / float64(d.N)
	for _, v := range k.Values {
		squares += (v - d.Mean.Value) * (v - d.Mean.Value)
	}
	if d.N > 1 {
		d.SD = math.Sqrt(squares / float64(d.N-1))
		d.Mean = EstimateOf(d.Mean.Value, stats.MeanIntervalOf(d.Mean.Value, d.SD, d.N, s.Level()))
	}
	const bins = 40
	h := histogram(k.Values, bins)
	for i, n := range h.Counts {
		if n > 0 {
			from := h.Low + float64(i)*h.Width
			d.Bins = append(d.Bins, Bin{from, from + h.Width, int64(n)})
		}
	}
	return d
}

// MeasureWords say what a measure's values are where they are not simply what was read.
func MeasureWords(read Reading, m lines.Measure) (out []Sentence) {
	if m != lines.Insulation {
		return nil
	}
	out = append(out, Say("insulation.words"))
	if read.Bounds > 0 {
		out = append(out, Warn("insulation.bounds", read.Bounds, len(read.Points)))
	}
	return out
}

// guards gives the width of each key's guard band in ohm: the product's factor
// times the expanded uncertainty of the newest readings, the median of them.
func (s Selection) guards(ctx context.Context, store *results.Store, pad []lines.PadKey) (map[string]float64, error) {
	const newest = 100 // units that tell what the uncertainty of a reading is now
	series, err := store.Lines.Readings(ctx, s.Filter, lines.Contact, nil, newest)
	if err != nil {
		return nil, err
	}
	u := map[string][]float64{}
	for _, p := range series.Points {
		u[p.Key] = append(u[p.Key], p.U)
	}
	out := map[string]float64{}
	for _, k := range pad {
		if len(u[k.Label]) > 0 {
			out[k.Label] = k.Guard * 2 * median(u[k.Label])
		}
	}
	return out, nil
}

func median(values []float64) float64 {
	list := slices.Sorted(slices.Values(values))
	return list[len(list)/2]
}

func (s Selection) distribution(name string, p hourly.Histogram, limits [2]float64) Distribution {
	d := Distribution{Name: name, N: int(p.N), Over: int(p.Beyond), Limits: limits, Mean: Unknown(), SD: math.NaN(),
		Bins: binsOf(p)}
	q := func(share float64) float64 { return pileQuantile(p, share) }
	d.Nearly = [2]float64{q(0.0005), q(0.9995)}
	d.Quantiles = Quantiles{q(0), q(0.05), q(0.25), q(0.5), q(0.75), q(0.95), q(1)}
	if p.N == 0 {
		return d
	}
	mean, m2 := p.Moments()
	d.Mean.Value = mean
	if p.N > 1 {
		d.SD = math.Sqrt(m2 / float64(p.N-1))
		d.Mean = EstimateOf(mean, stats.MeanIntervalOf(mean, d.SD, int(p.N), s.Level()))
	}
	return d
}

// pileQuantile is the value below which a share of a pile lies, on a straight
// line within a bin; NaN for an empty pile.
func pileQuantile(p hourly.Histogram, share float64) float64 {
	least, most := float64(p.Least)/1000, float64(p.Most)/1000
	switch {
	case p.N == 0:
		return math.NaN()
	case share <= 0:
		return least
	}
	want, below := share*float64(p.N), 0.0
	for i, n := range p.Bins {
		if n > 0 && below+float64(n) >= want {
			from, to := hourly.BinEdges(p.First + i)
			return min(max(from+(to-from)*(want-below)/float64(n), least), most)
		}
		below += float64(n)
	}
	return most
}

// binsOf puts bins together until they are about forty at most.
func binsOf(p hourly.Histogram) (out []Bin) {
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
	for at := 0; at < len(p.Bins); at += together {
		last := min(at+together, len(p.Bins)) - 1
		count := int64(0)
		for _, n := range p.Bins[at : last+1] {
			count += int64(n)
		}
		if from, _ := hourly.BinEdges(p.First + at); count > 0 {
			_, to := hourly.BinEdges(p.First + last)
			out = append(out, Bin{from, to, count})
		}
	}
	return out
}
