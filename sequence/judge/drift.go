package judge

import (
	"fmt"
	"math"

	"padjig/fixture"
	"padjig/sequence"
)

// falseAlarm is how many standard uncertainties of a change no sound jig goes beyond what it
// states by: 1 in 10^9 either way (normal, computed). With four ranges held against three
// self-tests of before, and 5,000 units a day, that is once in 45 years, on a jig whose
// references stand at the end of what they may drift all that time.
const falseAlarm = 6.11

// Drifted holds a jig's self-test against one of before: the check resistors of its ranges
// against their references. What the jig states that its references move is counted so many
// times: once where they are held against what they were when the jig was verified, twice
// between any two moments since, since they may have been at either end. The error says what
// moved most beyond what drift, noise and the currents of inputs explain; nil: nothing did.
//
// What moves a check resistor and its reference alike is not seen here; a verification sees it.
func Drifted(jig fixture.Capabilities, since sequence.Code, before, now sequence.SelfTest, times float64) error {
	if !now.SameChecks(before) {
		return nil // another jig, or made anew
	}
	var worst sequence.Said
	beyond := 1.0
	for i, was := range before.Checks {
		is := now.Checks[i]
		change := float64(is.Ohm/was.Ohm) - 1
		allowed := times*jig.Drift + falseAlarm*math.Hypot(math.Hypot(float64(was.U/was.Ohm), float64(is.U/is.Ohm)),
			math.Sqrt2*float64(jig.Bias)*jig.Takes(i))
		if over := math.Abs(change) / allowed; !(over <= beyond) {
			beyond = over
			worst = sequence.Fact(since, jig.Serial, is.Reference.String(), fmt.Sprintf("%+.0f", 1e6*change), fmt.Sprintf("%.0f", 1e6*allowed))
		}
	}
	if worst.Code == "" {
		return nil
	}
	return &Misread{worst}
}

// Doubted is the error of a jig that has read of itself what its statement leaves no room for.
// Up to there, uncertainties grow with what it read.
func Doubted(jig fixture.Capabilities, own fixture.Own) error {
	for _, doubt := range own.Doubts(jig) {
		switch doubt {
		case fixture.DoubtScale:
			return &Misread{sequence.Fact(sequence.ScaleDoubtful, jig.Serial,
				fmt.Sprintf("%+.2f", 100*own.Ground.Value), fmt.Sprintf("%.2f", 100*own.Vref.Value))}
		case fixture.DoubtInputs:
			return &Misread{sequence.Fact(sequence.InputsDoubtful, jig.Serial, own.Input.Value.String(), jig.Bias.String())}
		case fixture.DoubtNoise:
			return &Misread{sequence.Fact(sequence.NoiseDoubtful, jig.Serial, fmt.Sprintf("%.3g", 1e6*own.Noise.Deviation),
				fmt.Sprintf("%.3g", 1e6*jig.Noise))}
		}
	}
	return nil
}
