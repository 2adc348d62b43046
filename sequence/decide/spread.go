package decide

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Spread is how the true value lies about a reading, and the reading about the
// true value: a distribution symmetric about zero.
type Spread interface {
	CDF(x float64) float64
	Quantile(p float64) float64
}

// Normal is the spread of a standard uncertainty u > 0 from many sources.
func Normal(u float64) Spread { return distuv.Normal{Sigma: u} }

// FewReadings is the spread of a standard uncertainty u > 0 with few degrees of
// freedom: Student's t, scaled.
func FewReadings(u, freedom float64) Spread { return distuv.StudentsT{Sigma: u, Nu: freedom} }

// Rectangular is the spread of a standard uncertainty u > 0 that comes from
// bounds alone: the true value lies within sqrt(3) u of the reading for sure.
func Rectangular(u float64) Spread {
	half := math.Sqrt(3) * u
	return distuv.Uniform{Min: -half, Max: half}
}
