package compare

import (
	"errors"
	"math"

	"padjig/results/stats"
	"padjig/results/stats/numeric"

	"gonum.org/v1/gonum/stat/distuv"
)

// Stratum is the values of two groups where something else is alike.
type Stratum struct{ X, Y []float64 }

// ErrNoStratum is returned where no stratum has values of both groups.
var ErrNoStratum = errors.New("no stratum has values of both groups: there is nothing to compare")

// VanElteren tests whether one group's values tend to be larger within the strata, whatever
// the strata themselves differ by (van Elteren 1960): the ranks of each stratum by itself, put together with
// weights 1/(n+1), which are the best where the shift is the same in all. P is by the normal
// approximation, corrected for ties, and for continuity by half of the least step. The shift
// is the weighted median of the differences within strata, its interval what the test does
// not reject (Hodges and Lehmann 1963, as in [MannWhitney]). Strata with one group alone add
// nothing. Errors: no stratum with both, not finite.
func VanElteren(strata []Stratum, confidence float64) (RankTest, error) {
	if err := stats.CheckConfidence(confidence); err != nil {
		return RankTest{}, err
	}
	w := within{}
	t := RankTest{}
	variance := 0.0
	for _, s := range strata {
		if len(s.X) == 0 || len(s.Y) == 0 {
			continue
		}
		if err := stats.UsableGroups([][]float64{s.X, s.Y}, 2, 1); err != nil {
			return RankTest{}, err
		}
		one, err := MannWhitney(s.X, s.Y, confidence)
		if err != nil {
			return RankTest{}, err
		}
		m, n := float64(one.N1), float64(one.N2)
		_, ties := ranked(append(append([]float64{}, s.X...), s.Y...))
		weight := 1 / (m + n + 1)
		sd := weight * rankSD(m, n, ties)
		variance += sd * sd
		w.add(newDifferences(s.X, s.Y), weight)
		t.N1, t.N2, t.U = t.N1+one.N1, t.N2+one.N2, t.U+weight*one.U
	}
	if t.N1 == 0 {
		return RankTest{}, ErrNoStratum
	}
	t.Larger = t.U / w.total
	if variance == 0 { // all values of each stratum are equal
		t.P, t.Less, t.Greater = 1, 1, 1
	} else {
		sd, off, step := math.Sqrt(variance), t.U-w.total/2, w.least/2
		t.Less, t.Greater = distuv.UnitNormal.CDF((off+step)/sd), numeric.UpperTail((off-step)/sd)
		t.P = min(1, 2*min(t.Less, t.Greater))
	}
	cut := numeric.TwoSided(confidence) * math.Sqrt(variance)
	t.Shift = (w.reach(w.total/2) + w.reach(math.Nextafter(w.total/2, w.total))) / 2
	t.Shifts = stats.Interval{Low: w.reach(w.total/2 - cut), High: w.reach(math.Nextafter(w.total/2+cut, math.Inf(1))), Confidence: confidence}
	return t, nil
}

// within is all differences within strata, each with the weight of its stratum.
type within struct {
	of        []differences
	weights   []float64
	total     float64 // weight of all
	least     float64 // of one
	low, high float64
}

func (w *within) add(d differences, weight float64) {
	low, high := d.x[0]-d.y[len(d.y)-1], d.x[len(d.x)-1]-d.y[0]
	if len(w.of) == 0 {
		w.low, w.high, w.least = low, high, weight
	}
	w.low, w.high, w.least = min(w.low, low), max(w.high, high), min(w.least, weight)
	w.of, w.weights = append(w.of, d), append(w.weights, weight)
	w.total += weight * float64(len(d.x)) * float64(len(d.y))
}

// reach is the least difference up to which there is so much weight; the ends beyond all.
func (w within) reach(weight float64) float64 {
	below := func(at float64) float64 {
		sum := 0.0
		for i, d := range w.of {
			sum += w.weights[i] * float64(d.atMost(at))
		}
		return sum
	}
	low, high := w.low, w.high
	if below(low) >= weight {
		return low
	}
	for {
		mid := low + (high-low)/2
		if !(low < mid && mid < high) {
			return high
		}
		if below(mid) >= weight {
			high = mid
		} else {
			low = mid
		}
	}
}
