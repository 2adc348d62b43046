// Package pattern weighs what failed at one place of the units before: of the jig's
// actuator or probe there, of the units, or of a lot of them.
//
// Three things may be so at a place. Nothing is common to the failures: they come with
// the small rate of the place, on every jig alike. Or a part of this jig fails with some
// rate, whatever lies in it. Or the units of this lot fail with some rate, whatever jig
// they lie in. What the counts say of the three is reckoned by their marginal
// likelihoods: rates that are not known are uniform, the small rate has a beta law with
// the place's own as its mean. Without units elsewhere jig and lot explain the same, and
// the counts move neither against the other.
package pattern

import "math"

// Counts are how many units failed at a place before: on this jig, and those of the same
// lots on all others.
type Counts struct {
	Here, HereOf           int
	Elsewhere, ElsewhereOf int
}

// Any reports whether any unit failed there.
func (c Counts) Any() bool { return c.Here+c.Elsewhere > 0 }

// Speak reports whether the counts say anything: one unit before on the only jig there is
// does not.
func (c Counts) Speak() bool { return c.Any() && (c.ElsewhereOf > 0 || c.Here > 1) }

// Prior is how likely it is that a place of a unit fails, before anything is known of the
// units before: by the part of the jig there, and by the unit.
type Prior struct{ Jig, Unit float64 }

// Odds is what the counts make of a prior.
type Odds struct {
	Prior           // now
	Failing float64 // probability that the jig's part there fails
	Lot     float64 // that the units of the lot do
}

// strength is by how many units the rate of a place is known beforehand: little, so that
// a few hundred units outweigh it (common practice, no source).
const strength = 200

// After weighs the counts. Where nothing failed before, or one unit on the only jig, they
// say nothing: a jig's part begins to fail some time.
func (p Prior) After(c Counts) Odds {
	if !c.Speak() {
		return Odds{Prior: p}
	}
	x, n, y, m := float64(c.Here), float64(c.HereOf), float64(c.Elsewhere), float64(c.ElsewhereOf)
	a, b := strength*p.Unit, strength*(1-p.Unit)
	// A rate that is uniform is a half on average: as a state a part fails twice as often
	// as a unit shows it.
	failing, lot := 2*p.Jig, 2*p.Unit
	ways := lnChoose(n, x) + lnChoose(m, y)
	weights := normalised(
		math.Log(1-failing-lot)+ways+lnBeta(a+x+y, b+n+m-x-y)-lnBeta(a, b),
		math.Log(failing)+ways+lnBeta(x+1, n-x+1)+lnBeta(a+y, b+m-y)-lnBeta(a, b),
		math.Log(lot)+ways+lnBeta(x+y+1, n+m-x-y+1),
	)
	return Odds{
		Prior: Prior{
			Jig:  weights[1]*(x+1)/(n+2) + (1-weights[1])*p.Jig,
			Unit: weights[0]*(a+x+y)/(strength+n+m) + weights[1]*(a+y)/(strength+m) + weights[2]*(x+y+1)/(n+m+2),
		},
		Failing: weights[1], Lot: weights[2],
	}
}

func normalised(ln ...float64) []float64 {
	top, sum := math.Inf(-1), 0.0
	for _, l := range ln {
		top = math.Max(top, l)
	}
	out := make([]float64, len(ln))
	for i, l := range ln {
		out[i] = math.Exp(l - top)
		sum += out[i]
	}
	for i := range out {
		out[i] /= sum
	}
	return out
}

func lnBeta(a, b float64) float64 { return lnGamma(a) + lnGamma(b) - lnGamma(a+b) }

func lnChoose(n, k float64) float64 { return -math.Log(n+1) - lnBeta(n-k+1, k+1) }

func lnGamma(x float64) float64 {
	l, _ := math.Lgamma(x)
	return l
}
