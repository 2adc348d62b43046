package control

import (
	"fmt"
	"math"

	"padjig/results/stats"
)

// EWMA is a chart of the exponentially weighted moving average
// z[t] = Lambda x[t] + (1-Lambda) z[t-1], z[0] = Target (e-Handbook 6.3.2.4):
// it sees small lasting shifts that single values hide.
type EWMA struct {
	Target float64 // where the average starts: the baseline's mean
	Sigma  float64 // of one plotted value, from the baseline
	Lambda float64 // weight of the newest, 0 < Lambda <= 1
	L      float64 // limits at L sigmas of the average
	// Widening takes the limits exact for each t, narrow at first, in place
	// of the constant ones of a long run.
	Widening bool
}

// Check reports parameters that make no chart.
func (e EWMA) Check() error {
	if !(e.Lambda > 0 && e.Lambda <= 1) || !(e.L > 0) {
		return fmt.Errorf("an average with weight %v and limits at %v sigma makes no chart: the weight lies in 0..1, the limits above 0", e.Lambda, e.L)
	}
	if !(e.Sigma > 0) {
		return stats.ErrNoSpread
	}
	return nil
}

// Values are the averages after each of values. Errors: [EWMA.Check], no
// values, not finite.
func (e EWMA) Values(values []float64) ([]float64, error) {
	if err := e.Check(); err != nil {
		return nil, err
	}
	if err := stats.Usable(values, 1); err != nil {
		return nil, err
	}
	z := make([]float64, len(values))
	at := e.Target
	for i, x := range values {
		at = e.Lambda*x + (1-e.Lambda)*at
		z[i] = at
	}
	return z, nil
}

// Limits are those of the average after t values, t from 1:
// L sigma sqrt(lambda/(2-lambda)), widening by 1-(1-lambda)^(2t).
func (e EWMA) Limits(t int) Limits {
	half := e.L * e.Sigma * e.unitSD(t)
	return Limits{Lower: e.Target - half, Center: e.Target, Upper: e.Target + half}
}

func (e EWMA) unitSD(t int) float64 {
	share := 1.0
	if e.Widening {
		share = -math.Expm1(2 * float64(t) * math.Log1p(-e.Lambda))
	}
	return math.Sqrt(e.Lambda / (2 - e.Lambda) * share)
}

// Cusum is the tabular cumulative sum chart (e-Handbook 6.3.2.3): what
// exceeds the allowance K on either side of the target adds up until it
// passes H. K and H are in the unit of the data; common practice is half the
// shift to be found, and 4 to 5 sigma.
type Cusum struct{ Target, K, H float64 }

// A CusumPoint is the state after one value. Runs count since when a sum has
// been above 0: that many values ago the shift probably began.
type CusumPoint struct {
	High, Low       float64
	HighRun, LowRun int
	Signal          bool // one of the sums is above H
}

// Points are the sums after each of values, not restarted after a signal.
// Errors: no values, not finite, H not above 0 or K below 0.
func (c Cusum) Points(values []float64) ([]CusumPoint, error) {
	if !(c.H > 0) || !(c.K >= 0) {
		return nil, fmt.Errorf("a cumulative sum with allowance %v and decision limit %v makes no chart: 0 or more, and above 0", c.K, c.H)
	}
	if err := stats.Usable(values, 1); err != nil {
		return nil, err
	}
	points := make([]CusumPoint, len(values))
	var last CusumPoint
	for i, x := range values {
		last = c.next(last, x-c.Target)
		points[i] = last
	}
	return points, nil
}

func (c Cusum) next(last CusumPoint, d float64) CusumPoint {
	p := CusumPoint{High: max(0, last.High+d-c.K), Low: max(0, last.Low-d-c.K)}
	if p.High > 0 {
		p.HighRun = last.HighRun + 1
	}
	if p.Low > 0 {
		p.LowRun = last.LowRun + 1
	}
	p.Signal = p.High > c.H || p.Low > c.H
	return p
}
