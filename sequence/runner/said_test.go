package runner_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/sequence"
	"padjig/sequence/diagnose"
	"padjig/sequence/evidence"
)

// facts makes runs over all planted faults, over threads that burn away, of the
// returns desk, by electrical presses and by hand, their records in these sentences, and
// what each is diagnosed as.
func facts(t *testing.T, words sequence.Sentences) (runs []sequence.Run, diagnosed []diagnose.Diagnosis) {
	t.Helper()
	note := func(product string, make func(t *testing.T) sequence.Run) {
		synctest.Test(t, func(t *testing.T) {
			run := make(t)
			d, err := evidence.Diagnose(run, load(t, product))
			require.NoError(t, err)
			d.Terms = nil // figures, some of them not numbers, which equal nothing
			runs, diagnosed = append(runs, run), append(diagnosed, d)
		})
	}
	for _, c := range plantedFaults {
		note(c.product, func(t *testing.T) sequence.Run {
			run, _, _ := bench{product: load(t, c.product), faults: c.fault, seed: 11, words: words}.run(t)
			return run
		})
	}
	for before := range 7 {
		note("gcc-20", func(t *testing.T) sequence.Run { return burnt(t, before, words) })
	}
	for _, c := range []struct {
		fault string
		how   sequence.Actuation
	}{
		{"jig reference 2 drifted 5 %", ""}, {"channel 4 dirty open", sequence.Electrical}, {"", sequence.Electrical},
	} {
		note("gcc-20", func(t *testing.T) sequence.Run {
			run, _, _ := bench{product: load(t, "gcc-20"), faults: c.fault, how: c.how, seed: 11, words: words}.run(t)
			return run
		})
	}
	for _, fault := range []string{"key 7 high 640 ohm", "key 7 open", "key 1 drops out 5 ms every 300 ms", "line R3 open"} {
		for _, stage := range []planner{firstPress, exercise(sequence.Exercising{Presses: 5})} {
			note("gcc-20", func(t *testing.T) sequence.Run {
				run, _, _ := bench{product: load(t, "gcc-20"), faults: fault, seed: 11, words: words}.returned(t, stage)
				return run
			})
		}
	}
	return runs, diagnosed
}

// wordless is a run without the words that people read in its record.
func wordless(run sequence.Run) sequence.Run {
	run.Reason = ""
	if run.Outcome == sequence.Aborted { // what is on its way in the moment that a lid opens is chance, and takes time
		run.Duration = 0
	}
	run.Findings = slices.Clone(run.Findings)
	for i := range run.Findings {
		run.Findings[i].Place = ""
	}
	return run
}

// Words decide nothing: with all of them nonsense, while runs are made and while they
// are diagnosed, everything is concluded as before.
func TestNonsenseChangesNoFact(t *testing.T) {
	runs, diagnosed := facts(t, sequence.Plain())
	nonsense := sequence.Sentences{}
	for code := range sequence.Plain() {
		nonsense[code] = fmt.Sprintf(" blah %d; gone when blah", len(nonsense))
	}
	babbled, again := facts(t, nonsense)
	require.Len(t, babbled, len(runs))
	for i, run := range babbled {
		assert.Equal(t, wordless(runs[i]), wordless(run))
		assert.Equal(t, diagnosed[i], again[i], "%v", run.Findings)
	}
	spoken := 0
	for i, run := range runs {
		require.NotEqual(t, len(run.Findings) > 0, fmt.Sprint(run.Findings) == fmt.Sprint(babbled[i].Findings), "nonsense it was")
		spoken += len(run.Findings)
	}
	assert.Greater(t, spoken, 40)
}

// A run whose codes are taken away, as a version before them stored it, is given the
// same codes and is diagnosed as the same.
func TestRunsWithoutCodesReadAsBefore(t *testing.T) {
	runs, diagnosed := facts(t, sequence.Plain())
	for i, run := range runs {
		old := run
		old.Why = sequence.Said{}
		old.Findings = slices.Clone(run.Findings)
		for k := range old.Findings {
			old.Findings[k].At, old.Findings[k].How = sequence.Said{}, nil
		}
		old.Recall()
		switch run.Why.Code {
		case sequence.LidOpened, sequence.Emergency, sequence.JigFailed: // was whatever the error said
			old.Why = run.Why
		}
		assert.Equal(t, run, old)
		d, err := evidence.Diagnose(old, load(t, strings.ToLower(run.Product)))
		require.NoError(t, err)
		d.Terms = nil
		assert.Equal(t, diagnosed[i], d, "%v", run.Findings)
	}
}
