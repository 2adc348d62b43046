package control

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"padjig/results/stats/numeric"
)

// CusumRunLength is the average run length of a two-sided cumulative sum for
// normal, independent points shift sigmas off the target, from empty sums;
// allowance and limit in sigmas. Either side solves its integral equation
// (Page 1954) at Gauss nodes; together 1/L = 1/L(up) + 1/L(down), exact for a
// start from nothing (van Dobben de Bruyn 1968).
func CusumRunLength(k, h, shift float64) float64 {
	return 1 / (1/CusumRunLengthUpper(k, h, shift) + 1/CusumRunLengthUpper(k, h, -shift))
}

// CusumRunLengthUpper is that of the sum of what exceeds the target alone.
func CusumRunLengthUpper(k, h, shift float64) float64 {
	over := numeric.Legendre(runLengthNodes, 0, h)
	at := append([]float64{0}, over.X...) // state 0 is the empty sum, which has a probability of its own
	c := chain{to: make([][]float64, len(at)), out: make([]float64, len(at))}
	for i, s := range at {
		drift := s + shift - k
		c.to[i] = make([]float64, len(at))
		c.to[i][0] = distuv.UnitNormal.CDF(-drift)
		for j, x := range over.X {
			c.to[i][j+1] = over.Weight[j] * distuv.UnitNormal.Prob(x-drift)
		}
		c.out[i] = numeric.UpperTail(h - drift)
	}
	return c.meanSteps()
}

// runLengthNodes resolve a normal density over the widest span in use, some
// 20 sigmas of a step, to 1e-12.
const runLengthNodes = 96

// EWMARunLength is the average run length of the chart with constant limits
// for normal, independent points shift sigmas off the target, from the
// target: the integral equation of Crowder (1987) at Gauss nodes. With
// Widening, what comes before the limits stand still is added step by step,
// backwards. Target and Sigma do not matter.
func (e EWMA) RunLength(shift float64) float64 {
	half := e.L * math.Sqrt(e.Lambda/(2-e.Lambda))
	if !e.Widening {
		c := e.chain(shift, half)
		return c.meanSteps()
	}
	settled := int(math.Log(1e-17)/(2*math.Log1p(-e.Lambda))) + 1
	wait := e.chain(shift, half).waits()[1:]
	for t := settled; t > 0; t-- {
		limit := e.L * e.unitSD(t)
		from := []float64{0}
		next := numeric.Legendre(runLengthNodes, -limit, limit)
		if t > 1 {
			before := e.L * e.unitSD(t-1)
			from = numeric.Legendre(runLengthNodes, -before, before).X
		}
		wait = e.waitsBefore(shift, from, next, wait)
	}
	return wait[0]
}

// chain has the target as state 0, which nothing returns to exactly.
func (e EWMA) chain(shift, half float64) chain {
	over := numeric.Legendre(runLengthNodes, -half, half)
	at := append([]float64{0}, over.X...)
	c := chain{to: make([][]float64, len(at)), out: make([]float64, len(at))}
	for i, z := range at {
		c.to[i] = append([]float64{0}, e.step(z, shift, over)...)
		still := (1 - e.Lambda) * z
		c.out[i] = numeric.UpperTail((half-still)/e.Lambda-shift) + distuv.UnitNormal.CDF((-half-still)/e.Lambda-shift)
	}
	return c
}

// step is the weight with which the average, at z, comes to each node.
func (e EWMA) step(z, shift float64, over numeric.Quadrature) []float64 {
	p := make([]float64, len(over.X))
	for j, x := range over.X {
		p[j] = over.Weight[j] / e.Lambda * distuv.UnitNormal.Prob((x-(1-e.Lambda)*z)/e.Lambda-shift)
	}
	return p
}

// waitsBefore is one step back in time.
func (e EWMA) waitsBefore(shift float64, from []float64, over numeric.Quadrature, wait []float64) []float64 {
	before := make([]float64, len(from))
	for i, z := range from {
		terms := e.step(z, shift, over)
		for j := range terms {
			terms[j] *= wait[j]
		}
		before[i] = 1 + numeric.Sum(terms)
	}
	return before
}
