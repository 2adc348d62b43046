package diagnose

import (
	"fmt"
	"math"
	"strconv"

	"padjig/fixture/quantity"
	"padjig/sequence/diagnose/polish"
)

// Diagnosis is what the evidence says, most likely first.
type Diagnosis struct {
	// Sum says it all in one line, whatever the evidence is: each part follows the one
	// before.
	Sum []Said
	// Groups are ranked. The first Found of them, taken together, are the most likely
	// explanation of everything; those behind are rivals that remain.
	Groups []Group
	Found  int
	// Probability is that of the first Found groups together: that each of them holds
	// a true cause, and nothing else is wrong that readings could show.
	Probability float64
	// Masked lists what could not be tested because of something else.
	Masked []Masked
	// Check is the next thing to do: what would tell most. Nil where there is nothing
	// left to tell.
	Check *Check
	// Unexplained are the readings that no cause explains.
	Unexplained []Contribution
	// Patterns are what the units before said of the places of the explanation, which is in
	// the groups already.
	Patterns []Pattern
	// Terms are the closed readings of a matrix taken apart; nil where most of the
	// matrix has no reading.
	Terms *Terms
}

// Terms are the closed readings of a matrix, in ohm, as an overall value, a term for each
// row and each column in the product's order, and what is left at each key. A line fault
// shows in a term, a key fault in what is left. Medians leave a wild key where it is;
// least squares smear it over its row and column, but weigh all of the others.
type Terms struct{ Medians, Squares polish.Terms }

// Group is causes that no reading taken can tell apart: put into the circuit, they
// predict the same of every one.
type Group struct {
	Causes      []Cause // the likeliest first; their weights sum to 1
	Probability float64 // that one of them is there
	// For and Against are the readings that speak for the group and against it, the
	// most telling first.
	For, Against []Contribution
	// WithinLimits is set when nothing the group explains exceeds a limit.
	WithinLimits bool
}

// Cause is one thing that may have happened to the part, or the jig, with its place.
type Cause struct {
	Kind  Kind
	Place Said
	Key   string // label, where it is about one key
	Lines []string
	Pins  []int // of Lines, from 1
	// Ohm is the magnitude as far as the readings tell, nil where there is none.
	Ohm    *Estimate
	Weight float64 // within its group
	// Between are the labels of the keys between which a line's fault lies, the first
	// empty for the piece between the pin and the first key; nil for other faults.
	Between []string
	// Also are the lines that a key joins besides its own, where that is known.
	Also []string
	// Plant says the cause in the fault language of the simulated jig, so that it can be
	// tried out; empty where that has no sentence for it.
	Plant string
}

// Estimate is a resistance with its standard uncertainty, k = 1.
type Estimate struct{ Value, U quantity.Ohm }

// Contribution is what one reading says about a group: by how many nats it makes the
// group more likely than a good unit would make it; a nat is a factor of e.
type Contribution struct {
	Reading []Said // which, and what of it, one after the other
	Nats    float64
}

// Masked is something that was not tested, and why.
type Masked struct {
	What Said
	Key  string // its label, empty if it is not about a key
	By   Said
}

// First is the likeliest cause of all; ok is false where there is none.
func (d Diagnosis) First() (cause Cause, ok bool) {
	if len(d.Groups) == 0 || len(d.Groups[0].Causes) == 0 {
		return Cause{}, false
	}
	return d.Groups[0].Causes[0], true
}

// FirstCauses are the likeliest cause of each group of the explanation.
func (d Diagnosis) FirstCauses() []Cause {
	var out []Cause
	for _, g := range d.Groups[:d.Found] {
		if len(g.Causes) > 0 {
			out = append(out, g.Causes[0])
		}
	}
	return out
}

// String gives the value and the expanded uncertainty in one unit, with two digits of the
// uncertainty and as many of the value: "639.8 ± 2.0 ohm, k = 2".
func (e Estimate) String() string {
	if !(e.U > 0) || e.Value.IsOpen() {
		return e.Value.String()
	}
	expanded := 2 * float64(e.U)
	step := int(math.Floor(math.Log10(expanded))) - 1
	sign, power := "", 0
	switch {
	case e.Value >= 1e6:
		sign, power = "M", 6
	case e.Value >= 1e3:
		sign, power = "k", 3
	}
	digits := func(v float64) string { return strconv.FormatFloat(v/math.Pow10(power), 'f', max(power-step, 0), 64) }
	return fmt.Sprintf("%s ± %s %sohm, k = 2", digits(float64(e.Value)), digits(expanded), sign)
}
