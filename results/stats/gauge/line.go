package gauge

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"padjig/results/stats"
	"padjig/results/stats/numeric"
)

// A Line is fitted by least squares, y = Intercept + Slope x, with what its
// scatter says about both.
type Line struct {
	N                             int
	Intercept, Slope              float64
	InterceptInterval             stats.Interval
	SlopeInterval                 stats.Interval
	SlopeP                        float64 // of a slope of 0
	ResidualSD                    float64 // with n-2 degrees of freedom
	meanX, squaresX, t, parameter float64
}

// FitLine fits it. Errors: fewer than three points, not finite, lists of
// different length, all x equal, confidence outside 0..1.
func FitLine(x, y []float64, confidence float64) (Line, error) {
	if len(x) != len(y) {
		return Line{}, stats.ErrUnequal
	}
	if err := stats.CheckConfidence(confidence); err != nil {
		return Line{}, err
	}
	for _, values := range [][]float64{x, y} {
		if err := stats.Usable(values, 3); err != nil {
			return Line{}, err
		}
	}
	hx, lx := numeric.Center(x)
	hy, ly := numeric.Center(y)
	dx, dy := numeric.Deviations(x, hx, lx), numeric.Deviations(y, hy, ly)
	sxx := numeric.Sum(numeric.Squares(dx))
	if sxx == 0 {
		return Line{}, stats.ErrNoSpread
	}
	products, residuals := make([]float64, len(x)), make([]float64, len(x))
	for i := range dx {
		products[i] = dx[i] * dy[i]
	}
	l := Line{N: len(x), Slope: numeric.Sum(products) / sxx, meanX: hx, squaresX: sxx, parameter: confidence}
	l.Intercept = hy - l.Slope*hx
	for i := range dx {
		residuals[i] = dy[i] - l.Slope*dx[i]
	}
	l.settle(math.Sqrt(numeric.Sum(numeric.Squares(residuals)) / float64(l.N-2)))
	return l, nil
}

func (l *Line) settle(sd float64) {
	df := float64(l.N - 2)
	l.ResidualSD, l.t = sd, numeric.TQuantile(l.parameter, df)
	seSlope := sd / math.Sqrt(l.squaresX)
	seIntercept := sd * math.Sqrt(1/float64(l.N)+l.meanX*l.meanX/l.squaresX)
	l.SlopeInterval = stats.Around(l.Slope, l.t*seSlope, l.parameter)
	l.InterceptInterval = stats.Around(l.Intercept, l.t*seIntercept, l.parameter)
	l.SlopeP = 1
	if seSlope > 0 {
		l.SlopeP = 2 * distuv.StudentsT{Sigma: 1, Nu: df}.Survival(math.Abs(l.Slope/seSlope))
	} else if l.Slope != 0 {
		l.SlopeP = 0
	}
}

// Bias is how far readings lie from a known value on average.
type Bias struct {
	N         int
	Reference float64
	Mean      float64 // reading minus reference
	Interval  stats.Interval
	P         float64 // of no bias
}

// NewBias tests it by Student's t. Errors: fewer than two readings, not
// finite, no spread, confidence outside 0..1.
func NewBias(readings []float64, reference, confidence float64) (Bias, error) {
	if err := stats.CheckConfidence(confidence); err != nil {
		return Bias{}, err
	}
	if err := stats.Usable(readings, 2); err != nil {
		return Bias{}, err
	}
	off := numeric.Deviations(readings, reference, 0)
	n := float64(len(off))
	se := math.Sqrt(numeric.Variance(off) / n)
	if se == 0 {
		return Bias{}, stats.ErrNoSpread
	}
	b := Bias{N: len(off), Reference: reference, Mean: numeric.Mean(off)}
	b.Interval = stats.Around(b.Mean, numeric.TQuantile(confidence, n-1)*se, confidence)
	b.P = 2 * distuv.StudentsT{Sigma: 1, Nu: n - 1}.Survival(math.Abs(b.Mean/se))
	return b, nil
}

// Linearity is how the bias changes over the range: the line through the
// deviations over their references. A slope of 0.001 is 0.1 % of the reading.
// Errors as [FitLine].
func Linearity(references, readings []float64, confidence float64) (Line, error) {
	if len(references) != len(readings) {
		return Line{}, stats.ErrUnequal
	}
	off := make([]float64, len(readings))
	for i := range readings {
		off[i] = readings[i] - references[i]
	}
	return FitLine(references, off, confidence)
}
