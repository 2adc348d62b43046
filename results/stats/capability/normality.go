package capability

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"padjig/results/stats"
	"padjig/results/stats/numeric"
)

// Normality is the Anderson-Darling test of a normal distribution whose mean
// and standard deviation come from the sample.
type Normality struct {
	N        int
	A2       float64 // the statistic
	Adjusted float64 // A2 (1 + 0.75/n + 2.25/n^2)
	P        float64 // how often a normal sample would look less normal
}

// AndersonDarling tests values for normality (D'Agostino and Stephens 1986,
// table 4.7 for the adjustment, 4.9 for the p-value, an approximation good to
// about 0.002 between 0.001 and 0.9). A large P does not prove normality,
// least of all in a small sample. Errors: fewer than 8 values, not finite,
// zero variance.
func AndersonDarling(values []float64) (Normality, error) {
	if err := stats.Usable(values, 8); err != nil {
		return Normality{}, err
	}
	s, err := stats.Summarize(values)
	if err != nil {
		return Normality{}, err
	}
	if s.SD == 0 {
		return Normality{}, stats.ErrNoSpread
	}
	z := slices.Sorted(slices.Values(values))
	for i, v := range z {
		z[i] = (v - s.Mean) / s.SD
	}
	n := float64(len(z))
	a2 := andersonDarling(z)
	adjusted := a2 * (1 + 0.75/n + 2.25/(n*n))
	return Normality{N: s.N, A2: a2, Adjusted: adjusted, P: normalityP(adjusted)}, nil
}

// andersonDarling is -n - sum (2i-1)/n (ln F(z[i]) + ln(1 - F(z[n+1-i]))).
func andersonDarling(sorted []float64) float64 {
	n := len(sorted)
	terms := make([]float64, n)
	for i, z := range sorted {
		below := math.Log(distuv.UnitNormal.CDF(z))
		above := math.Log(numeric.UpperTail(sorted[n-1-i]))
		terms[i] = float64(2*i+1) / float64(n) * (below + above)
	}
	return -float64(n) - numeric.Sum(terms)
}

func normalityP(a float64) float64 {
	a = min(a, 150) // beyond, the first polynomial turns up again; the value is 0 long before
	switch {
	case a >= 0.6:
		return math.Exp(1.2937 - 5.709*a + 0.0186*a*a)
	case a >= 0.34:
		return math.Exp(0.9177 - 4.279*a - 1.38*a*a)
	case a >= 0.2:
		return 1 - math.Exp(-8.318+42.796*a-59.938*a*a)
	default:
		return 1 - math.Exp(-13.436+101.14*a-223.73*a*a)
	}
}

// A PlotPoint is one value of a normal probability plot: it should lie on a
// line over the normal quantile it has.
type PlotPoint struct{ Quantile, Value float64 }

// ProbabilityPlot gives the points in ascending order and the correlation of
// the two coordinates, 1 for a straight line. The quantiles are those of the
// medians of uniform order statistics (Filliben 1975; e-Handbook 1.3.3.21).
// Errors: fewer than 3 values, not finite, zero variance.
func ProbabilityPlot(values []float64) ([]PlotPoint, float64, error) {
	if err := stats.Usable(values, 3); err != nil {
		return nil, 0, err
	}
	sorted := slices.Sorted(slices.Values(values))
	points := make([]PlotPoint, len(sorted))
	quantiles := make([]float64, len(sorted))
	for i, v := range sorted {
		quantiles[i] = numeric.NormalQuantile(orderMedian(i+1, len(sorted)))
		points[i] = PlotPoint{Quantile: quantiles[i], Value: v}
	}
	r, err := correlation(quantiles, sorted)
	return points, r, err
}

func orderMedian(i, n int) float64 {
	last := math.Pow(0.5, 1/float64(n))
	switch i {
	case 1:
		return 1 - last
	case n:
		return last
	}
	return (float64(i) - 0.3175) / (float64(n) + 0.365)
}

func correlation(x, y []float64) (float64, error) {
	hx, lx := numeric.Center(x)
	hy, ly := numeric.Center(y)
	dx, dy := numeric.Deviations(x, hx, lx), numeric.Deviations(y, hy, ly)
	products := make([]float64, len(dx))
	for i := range dx {
		products[i] = dx[i] * dy[i]
	}
	scale := math.Sqrt(numeric.Sum(numeric.Squares(dx)) * numeric.Sum(numeric.Squares(dy)))
	if scale == 0 {
		return 0, stats.ErrNoSpread
	}
	return numeric.Sum(products) / scale, nil
}
