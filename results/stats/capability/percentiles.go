package capability

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"padjig/results/stats"
)

// percentile levels of +-3 sigma of a normal distribution.
var (
	outerLow  = distuv.UnitNormal.CDF(-3)
	outerHigh = distuv.UnitNormal.CDF(3)
)

// Percentiles is capability without a normal distribution: the sample's own
// 0.135, 50 and 99.865 per cent points take the place of mean -+ 3 sigma.
type Percentiles struct {
	N                 int
	Low, Median, High float64
	P                 Indices
	PpkInterval       stats.Interval // for P.PK, without a distribution
}

// How the risk of the interval is shared out: most of it goes to the outer points, of which
// little is known, and the rest to the median.
const (
	outerRisk  = 0.4 // of the whole, for either end of the outer points, of one side or both together
	medianRisk = 0.1 // for either end of the median
)

// PercentileCapability computes it (after ISO 22514-4, general geometric method), with
// quantiles as [stats.Quantile]. The interval takes the worst and the best that the index can
// be while each point lies between its bounds by order statistics ([stats.QuantileBounds]),
// which hold for any distribution, all of them together with the confidence. A bootstrap does
// not: of 500 skewed values the outer point lies beyond the largest in half of all samples,
// and no resample has more than those. Errors: fewer values than the outer points need,
// [PercentileSampleSize]; not finite, zero variance, no specification.
func PercentileCapability(values []float64, spec Spec, confidence float64) (Percentiles, error) {
	need, err := PercentileSampleSize(spec, confidence)
	if err != nil {
		return Percentiles{}, err
	}
	if err := stats.Usable(values, need); err != nil {
		return Percentiles{}, err
	}
	sorted := slices.Sorted(slices.Values(values))
	if sorted[0] == sorted[len(sorted)-1] {
		return Percentiles{}, stats.ErrNoSpread
	}
	p := Percentiles{N: len(sorted), Low: stats.QuantileSorted(sorted, outerLow),
		Median: stats.QuantileSorted(sorted, 0.5), High: stats.QuantileSorted(sorted, outerHigh)}
	outer, median := risksOf(spec, confidence)
	mid := stats.QuantileBounds(sorted, 0.5, median)
	p.P = Indices{P: math.NaN(), PU: math.NaN(), PL: math.NaN(), PK: math.Inf(1)}
	p.PpkInterval = stats.Interval{Low: math.Inf(1), High: math.Inf(1), Confidence: confidence}
	take := func(index float64, can stats.Interval) float64 {
		p.P.PK = min(p.P.PK, index)
		p.PpkInterval.Low, p.PpkInterval.High = min(p.PpkInterval.Low, can.Low), min(p.PpkInterval.High, can.High)
		return index
	}
	if !math.IsInf(spec.Upper, 1) {
		p.P.PU = take(reach(spec.Upper, p.Median, p.High), reaches(spec.Upper, mid, stats.QuantileBounds(sorted, outerHigh, outer)))
	}
	if !math.IsInf(spec.Lower, -1) { // the same, seen in a mirror
		low := stats.QuantileBounds(sorted, outerLow, outer)
		p.P.PL = take(reach(-spec.Lower, -p.Median, -p.Low), reaches(-spec.Lower, mirrored(mid), mirrored(low)))
	}
	if spec.TwoSided() {
		p.P.P = (spec.Upper - spec.Lower) / (p.High - p.Low)
	}
	return p, nil
}

// PercentileSampleSize is how many values the outer points need, so that the largest (or the
// smallest) is a bound for them. Errors: [Spec.Check], a confidence outside 0..1.
func PercentileSampleSize(spec Spec, confidence float64) (int, error) {
	if err := spec.Check(); err != nil {
		return 0, err
	}
	if err := stats.CheckConfidence(confidence); err != nil {
		return 0, err
	}
	outer, _ := risksOf(spec, confidence)
	return int(math.Ceil(math.Log(outer) / math.Log(outerHigh))), nil
}

func risksOf(spec Spec, confidence float64) (outer, median float64) {
	outer, median = outerRisk*(1-confidence), medianRisk*(1-confidence)
	if spec.TwoSided() {
		outer /= 2
	}
	return outer, median
}

// reach is how far the limit lies from the middle, in distances from there to the outer point.
func reach(limit, middle, outer float64) float64 {
	if outer <= middle { // bounds that meet: nothing is known of the distance
		return math.Copysign(math.Inf(1), limit-middle)
	}
	return (limit - middle) / (outer - middle)
}

// reaches are the least and the most that it can be: in each of the two it only rises or only
// falls, so that the ends are at ends.
func reaches(limit float64, middle, outer stats.Interval) stats.Interval {
	out := stats.Interval{Low: math.Inf(1), High: math.Inf(-1)}
	for _, m := range []float64{middle.Low, middle.High} {
		for _, o := range []float64{outer.Low, outer.High} {
			r := reach(limit, m, o)
			out.Low, out.High = min(out.Low, r), max(out.High, r)
		}
	}
	return out
}

func mirrored(i stats.Interval) stats.Interval { return stats.Interval{Low: -i.High, High: -i.Low} }
