package decide

import "gonum.org/v1/gonum/stat/distuv"

// Band is the guard band of a multiple of the expanded uncertainty U = 2u:
// w = multiple * 2u. A multiple of 0 is simple acceptance.
func Band(multiple, u float64) float64 { return multiple * 2 * u }

// MultipleForRisk is the multiple of U = 2u that leaves a reading right at an
// acceptance limit the given specific consumer's risk, for a normal spread
// and one limit: half the normal quantile of 1 - risk. Above a risk of 1/2 it
// is negative.
func MultipleForRisk(risk float64) float64 { return -distuv.UnitNormal.Quantile(risk) / 2 }

// RiskOfMultiple undoes [MultipleForRisk].
func RiskOfMultiple(multiple float64) float64 { return distuv.UnitNormal.CDF(-2 * multiple) }
