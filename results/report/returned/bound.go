package returned

import (
	"fmt"

	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/decide"
)

// Bound is what an exercise says of how often keys misbehave.
type Bound struct {
	Presses int // of the key pressed least
	Keys    int
	Bad     []BadKey // keys with presses that were not good
}

// BadKey is how often a key was not good.
type BadKey struct {
	Key          string
	Bad, Presses int
	Low, High    float64 // interval of the rate, 95 %; both 0 where the exercise stopped at the first
}

func boundOf(exercise *runs.Stored) *Bound {
	if exercise == nil || len(exercise.Exercised) == 0 {
		return nil
	}
	b := &Bound{}
	for _, x := range exercise.Exercised {
		if x.Presses == 0 {
			continue
		}
		if b.Keys == 0 || x.Presses < b.Presses {
			b.Presses = x.Presses
		}
		b.Keys++
		if x.Bad() > 0 {
			b.Bad = append(b.Bad, badKey(x))
		}
	}
	return b
}

func badKey(x sequence.KeyExercise) BadKey {
	k := BadKey{Key: x.Key, Bad: min(x.Bad(), x.Presses), Presses: x.Presses}
	if x.First < x.Presses || x.Presses == 1 { // else it may have ended with it
		k.Low, k.High = decide.MissInterval(k.Bad, k.Presses)
	}
	return k
}

// String says the bound in a sentence, or what was seen in its place.
func (b *Bound) String() string {
	switch {
	case b == nil || b.Presses == 0:
		return "no key was pressed often enough to bound how often it misses"
	case len(b.Bad) > 0:
		return b.seen()
	}
	return fmt.Sprintf("%s closed and opened as it should in all of %d presses: with 95 %% confidence it fails to in less than %.3g %% "+
		"of them (3/n, the rule of three; exactly 1 - 0.05^(1/n) = %.3g %%)",
		eachOf(b.Keys), b.Presses, 100*decide.RuleOfThree(b.Presses), 100*decide.MissBound(b.Presses))
}

func eachOf(keys int) string {
	if keys == 1 {
		return "the key"
	}
	return fmt.Sprintf("each of %d keys", keys)
}

// mostBad is how many keys are named with their rate.
const mostBad = 2

func (b *Bound) seen() string {
	text := "not good"
	for i, k := range b.Bad[:min(len(b.Bad), mostBad)] {
		if i > 0 {
			text += ";"
		}
		text += fmt.Sprintf(" key %s in %d of %d presses", k.Key, k.Bad, k.Presses)
		if k.High > 0 {
			text += fmt.Sprintf(" (%.2g %%, with 95 %% confidence %.2g to %.2g %%)", 100*float64(k.Bad)/float64(k.Presses), 100*k.Low, 100*k.High)
		}
	}
	if more := len(b.Bad) - mostBad; more > 0 {
		text += fmt.Sprintf("; and %s", plural(more, "more key"))
	}
	return text
}
