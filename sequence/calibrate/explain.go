package calibrate

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
)

// suspicion is what the deviations of a verification speak for.
type suspicion int

const (
	rangesDrifted   suspicion = iota // references are off: what each range reads is, by the same part
	resistorsDiffer                  // resistors are off: each is, by the same part on every range
	channelAdds                      // one channel has more in series than at the zero
)

type explanation struct {
	kind  suspicion
	where string // in words, for a person
}

// explain finds out of three models the one that the deviations fit best: a
// factor for each range, a factor for each resistor, or some ohms in one
// channel. Each is fitted by generalised least squares, since readings on one
// range share its reference and those of one resistor its certificate, and
// they are compared by chi-squared and twice the number of values fitted
// (Akaike's criterion for known variances, from memory).
func explain(readings []sequence.CalibrationReading, caps fixture.Capabilities) explanation {
	weights, ok := inverse(covariance(readings, caps))
	models := []model{
		factors(rangesDrifted, readings, rangeName),
		factors(resistorsDiffer, readings, resistorName),
	}
	for _, channel := range touched(readings) {
		models = append(models, inChannel(channel, readings))
	}
	if !ok {
		models = models[:1] // blame what would have to be blamed without a second thought
	}
	deviations := make([]float64, len(readings))
	for i, r := range readings {
		deviations[i] = r.Relative()
	}
	fits := make([]fit, len(models))
	for i, m := range models {
		fits[i] = m.fit(deviations, weights)
	}
	best := slices.MinFunc(fits, func(a, b fit) int { return cmp.Compare(a.cost, b.cost) })
	return explanation{best.kind, best.words()}
}

// covariance is that of the relative deviations of a sound jig and box: noise
// in each reading, the reference in all of a range, the certificate in all of
// a resistor.
func covariance(readings []sequence.CalibrationReading, caps fixture.Capabilities) *mat.SymDense {
	v := mat.NewSymDense(len(readings), nil)
	for i, a := range readings {
		shared := relativeReference(a, caps)
		certified := float64(a.Certified.U / a.Certified.Value)
		for j, b := range readings[:i] {
			sum := 0.0
			if a.Reference == b.Reference {
				sum += square(shared)
			}
			if a.Resistor == b.Resistor {
				sum += square(certified)
			}
			v.SetSym(i, j, sum)
		}
		measured := float64(a.Measured.U / a.Certified.Value)
		v.SetSym(i, i, square(measured)+square(certified)+square(unmodelled))
	}
	return v
}

// unmodelled is how far apart readings may lie, relative to their values, for
// reasons that none of this knows: it keeps a trifle from deciding.
const unmodelled = 50e-6

func relativeReference(r sequence.CalibrationReading, caps fixture.Capabilities) float64 {
	for _, ref := range caps.Ranges {
		if ref.Ohm == r.Reference {
			return ref.U
		}
	}
	return 0
}

func inverse(v *mat.SymDense) (*mat.SymDense, bool) {
	var chol mat.Cholesky
	var w mat.SymDense
	if !chol.Factorize(v) {
		return nil, false
	}
	return &w, chol.InverseTo(&w) == nil
}

// model says of each reading by how much each fitted value moves it.
type model struct {
	kind     suspicion
	readings []sequence.CalibrationReading
	names    []string // of the fitted values
	design   *mat.Dense
}

// factors is the model of one relative deviation for each name.
func factors(kind suspicion, readings []sequence.CalibrationReading, name func(sequence.CalibrationReading) string) model {
	var names []string
	for _, r := range readings {
		if !slices.Contains(names, name(r)) {
			names = append(names, name(r))
		}
	}
	design := mat.NewDense(len(readings), len(names), nil)
	for i, r := range readings {
		design.Set(i, slices.Index(names, name(r)), 1)
	}
	return model{kind, readings, names, design}
}

// inChannel is the model of some ohms in one channel.
func inChannel(channel int, readings []sequence.CalibrationReading) model {
	design := mat.NewDense(len(readings), 1, nil)
	for i, r := range readings {
		if on(r, channel) {
			design.Set(i, 0, 1/float64(r.Certified.Value))
		}
	}
	return model{channelAdds, readings, []string{fmt.Sprintf("channel %d", channel)}, design}
}

// fit is a model with its values.
type fit struct {
	model
	values []float64
	cost   float64
}

func (m model) fit(deviations []float64, weights mat.Symmetric) fit {
	f := fit{model: m, values: make([]float64, len(m.names))}
	y := mat.NewVecDense(len(deviations), deviations)
	var xw, xwx, xwy mat.Dense
	xw.Mul(m.design.T(), weights)
	xwx.Mul(&xw, m.design)
	xwy.Mul(&xw, y)
	var beta mat.Dense
	if err := beta.Solve(&xwx, &xwy); err != nil {
		f.cost = math.Inf(1)
		return f
	}
	mat.Col(f.values, 0, &beta)
	var fitted, residual mat.VecDense
	fitted.MulVec(m.design, mat.NewVecDense(len(f.values), f.values))
	residual.SubVec(y, &fitted)
	f.cost = mat.Inner(&residual, weights, &residual) + 2*float64(len(m.names))
	return f
}

// words says what is off: of factors those in a reading that is out of tolerance.
func (f fit) words() string {
	if f.kind == channelAdds {
		return fmt.Sprintf("out of tolerance: %s reads %v more than at the last zero",
			f.names[0], quantity.Ohm(math.Round(f.values[0]*1e3)/1e3))
	}
	var words []string
	for i, name := range f.names {
		if f.concerns(i) {
			words = append(words, fmt.Sprintf("%s by %+.2f %%", name, 100*f.values[i]))
		}
	}
	text := strings.Join(words, ", ")
	if f.kind == rangesDrifted {
		text = "out of tolerance: " + text
	}
	return text
}

func (m model) concerns(value int) bool {
	for i, r := range m.readings {
		if !r.Good && m.design.At(i, value) != 0 {
			return true
		}
	}
	return false
}

func rangeName(r sequence.CalibrationReading) string    { return "range " + r.Reference.String() }
func resistorName(r sequence.CalibrationReading) string { return "resistor " + r.Resistor }

func square(v float64) float64 { return v * v }
