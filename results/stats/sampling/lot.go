package sampling

import (
	"fmt"
	"math"

	"padjig/results/stats/numeric"
)

// A Lot is of so many units, of which so many are bad. A sample is drawn from it by chance
// and not put back, so that what is found in it is hypergeometric.
type Lot struct{ Size, Bad int }

// MostLot is the largest lot that is reckoned by itself: a larger one is as good as endless.
const MostLot = 100_000

// Share is that of its bad units.
func (l Lot) Share() float64 { return float64(l.Bad) / float64(l.Size) }

// Inspected is what a plan makes of lots alike, on average.
type Inspected struct {
	Accepted float64 // the chance of it (the operating characteristic of type A)
	Outgoing float64 // share of bad units left, where a rejected lot is tested whole and what is bad replaced
	Tested   float64 // units
}

// Inspect follows every number of bad units that the sample can hold.
func (p Plan) Inspect(l Lot) (out Inspected) {
	low, law := numeric.HypergeometricLaw(l.Size, l.Bad, p.N, 1, numeric.Underflow)
	left := 0.0
	for i, chance := range law[:min(len(law), max(0, p.Accept-low+1))] {
		out.Accepted += chance
		left += chance * float64(l.Bad-low-i)
	}
	out.Accepted = min(1, out.Accepted)
	out.Outgoing = left / float64(l.Size)
	out.Tested = float64(p.N) + (1-out.Accepted)*float64(l.Size-p.N)
	return out
}

// WorstOutgoing is the lot of a size after whose inspection most bad units are left, and
// their share.
func (p Plan) WorstOutgoing(size int) (limit float64, at Lot) {
	at = Lot{Size: size}
	for l := (Lot{Size: size}); l.Bad <= size; l.Bad++ {
		of := p.Inspect(l)
		if of.Outgoing > limit {
			limit, at = of.Outgoing, l
		}
		if of.Accepted <= limit { // no worse lot is accepted more often, and of none more is left than all
			break
		}
	}
	return limit, at
}

// MostAccepted is the lot with the most bad units that is accepted with at least the chance.
func (p Plan) MostAccepted(size int, chance float64) Lot {
	low, high := 0, size+1
	for high-low > 1 {
		if mid := (low + high) / 2; p.Inspect(Lot{size, mid}).Accepted >= chance {
			low = mid
		} else {
			high = mid
		}
	}
	return Lot{size, low}
}

// Lots are the two of a size that the risks are about: the worst that is still good, and the
// best that is already bad.
func (r Risks) Lots(size int) (good, bad Lot) {
	const rounding = 1e-9
	return Lot{size, int(math.Floor(r.Good*float64(size) + rounding))}, Lot{size, int(math.Ceil(r.Bad*float64(size) - rounding))}
}

// DesignFor is the smallest plan that keeps both risks for lots of a size. Errors: [Risks.Check],
// a size that is none.
func (r Risks) DesignFor(size int) (Plan, error) {
	if err := r.Check(); err != nil {
		return Plan{}, err
	}
	if err := CheckSize(size); err != nil {
		return Plan{}, err
	}
	good, bad := r.Lots(size)
	accepts := func(p Plan) float64 {
		if p.N >= size { // all of it
			return 0
		}
		return p.Inspect(bad).Accepted
	}
	// To test all of it and accept up to what a good lot has keeps both.
	for accept := 0; ; accept++ {
		p := Plan{N: leastN(accept, r.Consumer, accepts), Accept: accept}
		if p.N >= size || p.Inspect(good).Accepted >= 1-r.Producer {
			return Plan{N: min(p.N, size), Accept: accept}, nil
		}
	}
}

// CheckSize reports a lot that is none, or so large that it has no law of its own here.
func CheckSize(size int) error {
	if size < 2 || size > MostLot {
		return fmt.Errorf("a lot of %d is none of 2 to %d units: a larger one is as good as endless", size, MostLot)
	}
	return nil
}
