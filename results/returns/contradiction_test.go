package returns

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/results/store"
	"padjig/sequence"
)

// Every pair of disposition and disposal is held against each sort of evidence: what it
// contradicts is listed here, for each of both by itself, and nothing else is said.
func TestContradictionsOfEveryPair(t *testing.T) {
	type codes map[string][]sequence.Code
	for name, c := range map[string]struct {
		of   Evidence
		says codes // by disposition or disposal; none: it contradicts nothing
	}{
		"nothing at all": {Evidence{Conditions: []string{NothingVisible}}, codes{
			Confirmed: {NothingFound}, NotReproduced: {NoExercise}, FalseAccept: {NothingFound, LeftUnknown}, CustomerDamage: {NoDamageSeen},
			Scrapped: {GoodUnitScrapped}, SentRepaired: {NothingRepaired}, ToProduction: {NothingRepaired},
		}},
		"all stages good, good jig": {Evidence{Conditions: []string{NothingVisible}, Exercised: true, Left: true, LeftOn: "J-1"}, codes{
			Confirmed: {NothingFound}, FalseAccept: {NothingFound, JigWasGood}, CustomerDamage: {NoDamageSeen},
			Scrapped: {GoodUnitScrapped}, SentRepaired: {NothingRepaired}, ToProduction: {NothingRepaired},
		}},
		"found, good jig": {Evidence{Stage: "first press", Worst: "key open", Conditions: []string{"dirty"}, Left: true, LeftOn: "J-1"}, codes{
			NotReproduced: {StageFound}, FalseAccept: {JigWasGood}, CustomerDamage: {NoDamageSeen},
			SentAsItIs: {FaultGoesBack}, SentRepaired: {NothingRepaired}, ToProduction: {NothingRepaired},
		}},
		"found, doubtful jig": {Evidence{Stage: "return test", Worst: "key high", Conditions: []string{"scratched"}, Left: true, LeftOn: "J-1", Doubtful: true}, codes{
			NotReproduced: {StageFound}, CustomerDamage: {MayHaveLeftSo},
			SentAsItIs: {FaultGoesBack}, SentRepaired: {NothingRepaired}, ToProduction: {NothingRepaired},
		}},
		"found, and it is the desk's jig": {Evidence{Stage: "return test", Worst: "key open", Conditions: []string{NothingVisible}, BlamesJig: "jig noisy"}, codes{
			Confirmed: {CausesBlameJig}, NotReproduced: {StageFound}, FalseAccept: {LeftUnknown}, CustomerDamage: {NoDamageSeen, CausesBlameJig},
			SentAsItIs: {FaultGoesBack}, SentRepaired: {NothingRepaired}, ToProduction: {NothingRepaired},
		}},
		"burnt, never measured": {Evidence{Conditions: []string{"burnt"}}, codes{
			Confirmed: {NothingFound}, NotReproduced: {NoExercise}, FalseAccept: {NothingFound, LeftUnknown},
			SentRepaired: {NothingRepaired}, ToProduction: {NothingRepaired, DamagedGoesBack},
		}},
		"found and repaired": {Evidence{Stage: "exercise", Worst: "misses", Conditions: []string{"dirty"}, Exercised: true, Left: true, LeftOn: "J-1", Reworked: true}, codes{
			NotReproduced: {StageFound}, FalseAccept: {JigWasGood}, CustomerDamage: {NoDamageSeen},
			SentAsItIs: {FaultGoesBack}, SentRepaired: {NotTestedSince},
		}},
		"found, repaired and tested": {Evidence{Stage: "exercise", Worst: "misses", Conditions: []string{"dirty"}, Exercised: true, Left: true, LeftOn: "J-1",
			Reworked: true, TestedSince: true}, codes{
			NotReproduced: {StageFound}, FalseAccept: {JigWasGood}, CustomerDamage: {NoDamageSeen}, SentAsItIs: {FaultGoesBack},
		}},
	} {
		for _, disposition := range Dispositions {
			for _, disposal := range Disposals {
				got := store.Each(c.of.Contradictions(disposition, disposal), func(x Contradiction) sequence.Code { return x.Code })
				assert.ElementsMatch(t, append(append([]sequence.Code{}, c.says[disposition]...), c.says[disposal]...), got, "%s: %s, %s", name, disposition, disposal)
			}
		}
	}
}

// Each contradiction that there is can be had, and has its answer asked for.
func TestEveryContradictionIsAnswered(t *testing.T) {
	had := map[sequence.Code]bool{}
	for stage := range 2 {
		for bits := range 1 << 6 {
			is := func(n int) bool { return bits>>n&1 == 1 }
			e := Evidence{Stage: []string{"", "exercise"}[stage], Exercised: is(0), Left: is(1), Doubtful: is(2), Reworked: is(3), TestedSince: is(4)}
			e.Conditions = []string{NothingVisible}
			if is(5) {
				e.Conditions, e.BlamesJig = []string{"burnt"}, "jig noisy"
			}
			for _, disposition := range Dispositions {
				for _, disposal := range Disposals {
					list := e.Contradictions(disposition, disposal)
					answers := map[string]string{}
					for _, x := range list {
						had[x.Code] = true
						_, err := answer(list, answers)
						assert.ErrorIs(t, err, ErrStage)
						answers[string(x.Code)] = " "
						_, err = answer(list, answers)
						assert.ErrorIs(t, err, ErrStage, "blanks say nothing")
						answers[string(x.Code)] = "because"
					}
					answered, err := answer(list, answers)
					assert.NoError(t, err)
					assert.Len(t, answered, len(list))
				}
			}
		}
	}
	for _, code := range ContradictionCodes {
		assert.True(t, had[code], code)
	}
	assert.Len(t, had, len(ContradictionCodes))
}

// Causes kept by any version say whether the jig is the likeliest, or nothing.
func TestBlamesJig(t *testing.T) {
	for kept, want := range map[string]string{
		`[{"causes":[{"cause":"jig noisy","of_jig":true}]}]`:                                        "jig noisy",
		`[{"causes":[{"cause":"contact dirty"}]},{"causes":[{"cause":"jig noisy","of_jig":true}]}]`: "",
		`[{"causes":[{"cause":"contact missing"},{"cause":"actuator misses","of_jig":true}]}]`:      "",
		`[]`: "", `[{"causes":[]}]`: "", `[{"causes":7}]`: "", `{`: "",
	} {
		assert.Equal(t, want, blamesJig([]byte(kept)), kept)
	}
}
