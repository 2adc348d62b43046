package samepad

import "math"

// Scatter is by how much the readings of one pad differ from run to run, as standard
// deviations of the logarithm: what is assumed of it, which is a range.
type Scatter struct {
	Least, Most float64
	Changed     float64 // chance of a key to have become another: repaired, worn through, dirty
}

// Presses is the scatter from one press to the next, within hours. Rubber keys with
// carbon pills and polyester domes repeat their contact resistance to a few percent;
// common practice, no source. That a jig repeats a reading to a thousandth bounds it below.
func Presses() Scatter { return Scatter{Least: 0.001, Most: 0.08, Changed: 0.02} }

// Years is the scatter between a test at the line and one when a unit came back: wear,
// films and cleaning move keys one by one, and more of them are faulty. Common
// practice, no source.
func Years() Scatter { return Scatter{Least: 0.01, Most: 0.12, Changed: 0.15} }

// steps of the range, evenly on a logarithmic scale. The more presses scatter the less
// likely that is beforehand: nine parts for the least, one for the most.
const steps = 9

func (s Scatter) weight(step int) float64 { return float64(2*(steps-step)) / (steps * (steps + 1)) }

func (s Scatter) at(step int) float64 {
	return s.Least * math.Pow(s.Most/s.Least, float64(step)/(steps-1))
}

// Ratio is how two runs compare.
type Ratio struct {
	Log    float64 // natural logarithm of the likelihood of one pad over that of two
	Most   float64 // what it would be, were both runs equal to the last digit
	Keys   int     // that were read twice
	Shift  float64 // of all keys together, as a logarithm; it counts for neither
	Within float64 // the scatter of presses that explains the differences best
}

// Compare weighs one pad against two of the lot. It says nothing, which is a ratio
// of one, where the lot or the keys are too few.
func (l Lot) Compare(a, b Pad, s Scatter) Ratio {
	d, n := differences(a, b)
	r := Ratio{Keys: n}
	if n < LeastKeys || l.Independent <= 0 {
		return r
	}
	k := firstThere(d)
	r.Shift = math.Log(a[k].Ohm/b[k].Ohm) - d[k]
	of := comparison{lot: l, own: make([]float64, len(d)), scatter: s}
	// One difference went into the shift. Keys that go together say less.
	of.share = l.Independent / float64(l.keys-1) * float64(n-1) / float64(n)
	for k, v := range d {
		if !math.IsNaN(v) {
			of.own[k] = (square(a[k].U/a[k].Ohm) + square(b[k].U/b[k].Ohm)) / 2
		}
	}
	r.Log, r.Within = of.ratio(d)
	for k, v := range d {
		d[k] = v * 0 // what was not read stays so
	}
	r.Most, _ = of.ratio(d)
	return r
}

// comparison is what differences are weighed by.
type comparison struct {
	lot     Lot
	own     []float64 // variance of the readings themselves, by key
	scatter Scatter
	share   float64 // of the keys' evidence that counts
}

// ratio is the mean over all scatters of presses, weighted, and the one that explains most.
func (c comparison) ratio(d []float64) (log, within float64) {
	var logs [steps]float64
	best := 0
	for step := range steps {
		logs[step] = c.share*c.sum(d, square(c.scatter.at(step))) + math.Log(c.scatter.weight(step))
		if logs[step] > logs[best] {
			best = step
		}
	}
	return sumOf(logs[:]), c.scatter.at(best)
}

// sum adds the keys' logarithms, at one scatter of presses. Of each difference it is the
// likelihood when presses of one pad scatter by within, over that when pads scatter by
// between; a key that has changed says nothing of the pad. So no key counts for less
// than the logarithm of that chance.
func (c comparison) sum(d []float64, presses float64) (log float64) {
	product := 1.0 // of a few ratios at a time: it neither overflows nor vanishes
	for k, v := range d {
		if math.IsNaN(v) || k >= len(c.lot.Between) || c.lot.Between[k] <= 0 {
			continue
		}
		between := square(c.lot.Between[k])
		within := min(presses+c.own[k], between)
		same := math.Sqrt(between/within) * math.Exp(v*v/4*(1/between-1/within))
		product *= (1-c.scatter.Changed)*same + c.scatter.Changed
		if k%8 == 7 {
			log, product = log+math.Log(product), 1
		}
	}
	return log + math.Log(product)
}

// sumOf is the logarithm of the sum of what the logarithms are of.
func sumOf(logs []float64) float64 {
	top := logs[0]
	for _, v := range logs {
		top = max(top, v)
	}
	sum := 0.0
	for _, v := range logs {
		sum += math.Exp(v - top)
	}
	return top + math.Log(sum)
}

func firstThere(d []float64) int {
	for k, v := range d {
		if !math.IsNaN(v) {
			return k
		}
	}
	return 0
}

func square(v float64) float64 { return v * v }

// Rarely is how seldom two pads may be taken for one, per unit that is tested, were
// the model right; common practice, no source. Measured it is less: a ratio that is just
// reached is only a part of all that lie beyond it.
const Rarely = 1.0 / 1000

// Threshold is the logarithm from which two runs read one pad, when the best of so
// many comparisons is looked at: each of them may be the one that is wrong.
func Threshold(comparisons int) float64 {
	return math.Log(float64(max(comparisons, 1)) / Rarely)
}

// Doubtful is the logarithm below which two runs under one serial number read more like
// two pads. It is a remark and stops nothing: pads hardly differ by more than ten
// times what presses may, so that no ratio is ever far below.
func Doubtful() float64 { return -math.Log(10) }
