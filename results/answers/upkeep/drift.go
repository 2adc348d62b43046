package upkeep

import (
	"math"

	"padjig/results/care"
	"padjig/results/lines"
	"padjig/results/studies"
	"padjig/sequence"
	"padjig/sequence/calibrate"
	"padjig/sequence/product"
)

// Drift is how the readings of a jig moved: each point a part of what is allowed, 1 at the upper
// limit and -1 at the lower one, oldest first.
type Drift struct {
	Of     string // serial number of the reference unit; empty for verifications
	Points []float64
}

const (
	// driftPoints are as many as a small line has room for.
	driftPoints = 40
	// far is the part of its limit from which a drift is worth a word before it fails (common
	// practice, no source).
	far = 0.75
)

// Far reports whether the last point is near its limit, or beyond it.
func (d Drift) Far() bool { return len(d.Points) > 1 && math.Abs(d.Points[len(d.Points)-1]) >= far }

// Last is the newest point, not a number where there is none.
func (d Drift) Last() float64 {
	if len(d.Points) == 0 {
		return math.NaN()
	}
	return d.Points[len(d.Points)-1]
}

// drift is that of the first good reference unit that was checked more than once, else that of
// the verifications.
func (q asking) drift(j Jig, refs *product.References) (Drift, error) {
	if refs != nil && refs.Within > 0 {
		for _, unit := range refs.Good {
			values, err := q.store.Studies.ReferenceValues(q.ctx, j.Jig.Serial, unit, j.Simulated, lines.Contact)
			if err != nil {
				return Drift{}, err
			}
			if d := driftOf(unit, values, refs.Within); len(d.Points) > 1 {
				return d, nil
			}
		}
	}
	list, err := q.store.Care.Calibrations(q.ctx, j.Jig.Serial, j.Simulated)
	return driftOfVerifications(list), err
}

// driftOf has a point for each check: the key that reads farthest from what it read at the
// first one, as a part of the band that the product allows it.
func driftOf(unit string, values studies.Repeated, within float64) Drift {
	d := Drift{Of: unit}
	for i := max(0, len(values.Runs)-driftPoints); i < len(values.Runs); i++ {
		worst := 0.0
		for _, key := range values.Keys {
			part := (values.Values[key][i]/values.Values[key][0] - 1) / within
			if math.Abs(part) > math.Abs(worst) { // not where either has no number
				worst = part
			}
		}
		d.Points = append(d.Points, worst)
	}
	return d
}

// driftOfVerifications has a point for each: the range that comes nearest to its limit.
func driftOfVerifications(list []care.StoredCalibration) (d Drift) {
	for _, c := range list {
		if c.Kind != sequence.KindVerify {
			continue
		}
		worst := 0.0
		for _, r := range calibrate.Ranges(c.Calibration) {
			if part := r.Deviation / r.Limit; math.Abs(part) > math.Abs(worst) {
				worst = part
			}
		}
		d.Points = append(d.Points, worst)
	}
	d.Points = d.Points[max(0, len(d.Points)-driftPoints):]
	return d
}
