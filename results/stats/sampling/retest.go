package sampling

import (
	"errors"
	"fmt"
	"math"
)

// Errors of a test, per test of one unit.
type TestErrors struct {
	FalseReject float64 // a good unit fails
	FalseAccept float64 // a bad unit passes
	// Sticks is the chance that testing again only repeats the verdict before,
	// whatever the unit is: the same unit in the same nest errs alike. 0 is
	// independent tests, the most hopeful; 1 makes a retest worthless.
	Sticks float64
}

// A RetestPolicy says how verdicts of up to Tests tests of a unit become one.
type RetestPolicy struct {
	Tests   int
	AllPass bool // every test must pass, stopping at the first failed; else one pass is enough, stopping there
}

// The usual policies.
var (
	TestOnce   = RetestPolicy{Tests: 1}
	ReseatOnce = RetestPolicy{Tests: 2} // a failed unit is seated anew and tested again
)

// PolicyYield is what a policy does to a stream of units; shares are of all
// units tested unless they say otherwise.
type PolicyYield struct {
	Passed       float64
	Escapes      float64 // bad and passed
	EscapesInOut float64 // bad among those passed; 0 if none passes
	FalseScrap   float64 // good and failed
	ScrapOfGood  float64 // failed among the good
	TestsPerUnit float64
}

// Yield computes it for a share of bad units. It is plain probability over a
// unit that is good or bad, and stays so while it is tested; see [TestErrors]
// on repeats. Errors: every share outside 0..1 and a policy without a test.
func (p RetestPolicy) Yield(e TestErrors, bad float64) (PolicyYield, error) {
	if err := p.check(e, bad); err != nil {
		return PolicyYield{}, err
	}
	good, testsGood := p.passes(1-e.FalseReject, e.Sticks)
	escaped, testsBad := p.passes(e.FalseAccept, e.Sticks)
	y := PolicyYield{
		Passed: (1-bad)*good + bad*escaped, Escapes: bad * escaped,
		FalseScrap: (1 - bad) * (1 - good), ScrapOfGood: 1 - good,
		TestsPerUnit: (1-bad)*testsGood + bad*testsBad,
	}
	if y.Passed > 0 {
		y.EscapesInOut = y.Escapes / y.Passed
	}
	return y, nil
}

func (p RetestPolicy) check(e TestErrors, bad float64) error {
	var problems []error
	for _, s := range []struct {
		name  string
		share float64
	}{{"false rejects", e.FalseReject}, {"false accepts", e.FalseAccept}, {"repeats", e.Sticks}, {"bad units", bad}} {
		if math.IsNaN(s.share) || s.share < 0 || s.share > 1 {
			problems = append(problems, fmt.Errorf("the share of %s lies between 0 and 1, not %v", s.name, s.share))
		}
	}
	if p.Tests < 1 {
		problems = append(problems, fmt.Errorf("a policy of %d tests decides nothing", p.Tests))
	}
	return errors.Join(problems...)
}

// passes is the chance that a unit passes that passes one test with chance q,
// and how many tests it takes.
func (p RetestPolicy) passes(q, sticks float64) (chance, tests float64) {
	goesOn := 1 - q // the verdict that leads to another test
	if p.AllPass {
		goesOn = q
	}
	again := sticks + (1-sticks)*goesOn
	going := 1.0
	for t := range p.Tests {
		tests += going
		if t == 0 {
			going *= goesOn
		} else {
			going *= again
		}
	}
	if p.AllPass {
		return going, tests
	}
	return 1 - going, tests
}
