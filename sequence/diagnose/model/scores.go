package model

import "math"

// Sort is a sort of readings.
type Sort uint8

// The sorts.
const (
	Keys  Sort = iota // what was read at a key
	Rest              // a connection found at rest
	Seats             // the loop of a channel
	Held              // a connection found while a key was held
	Whole             // one alone, for what belongs to no single reading
	sorts
)

// Scores are the natural logarithms of how likely each reading is, by sort and in the
// order of the evidence. Those of resistances are densities over the logarithm of the
// resistance, so that they can be compared.
type Scores [sorts][]float64

func (s *Scores) sum() (sum float64) {
	for _, sort := range []Sort{Whole, Keys, Rest, Seats, Held} {
		for _, v := range s[sort] {
			sum += v
		}
	}
	return sum
}

// term scores the readings of one sort.
type term interface {
	// count is how many there are.
	count() int
	// of is how likely h, whose magnitudes are settled, makes reading i.
	of(i int, h Hypothesis) float64
}

const (
	// Surprise is what something costs that no fault of a hypothesis explains. It is
	// more than any one fault's prior and less than two.
	Surprise = -20.0
	// capped is the most that one closed reading may speak against a hypothesis.
	capped = -40.0
	// decades are the natural logarithms that a free resistance may lie in: four and a
	// half decades for a contact, five for a crack, nine for a bridge.
	contactRange, crackRange, bridgeRange = 10.4, 11.5, 20.7
)

func unless(explained bool) float64 { return when(explained, 0, Surprise) }

// explained reports whether a reading of this likelihood is no surprise.
func explained(l float64) bool { return l > Surprise/2 }

func when(is bool, yes, no float64) float64 {
	if is {
		return yes
	}
	return no
}

// student is the density of Student's t of four degrees of freedom: contacts have wider
// tails than a normal distribution gives them.
func student(z float64) float64 {
	return math.Log(0.375) - 2.5*math.Log1p(z*z/4)
}
