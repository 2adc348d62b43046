package trial_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/trial"
	"padjig/results/care"
	"padjig/results/lines"
	"padjig/results/releases/releasestest"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/product"
)

func parsed(t *testing.T, changes ...string) (*product.Product, string) {
	t.Helper()
	raw, err := os.ReadFile("../../../testdata/products/gcc-20.yaml")
	require.NoError(t, err)
	text := string(raw)
	for i := 0; i < len(changes); i += 2 {
		require.Contains(t, text, changes[i])
		text = strings.Replace(text, changes[i], changes[i+1], 1)
	}
	p, err := product.Parse("pad.yaml", []byte(text))
	require.NoError(t, err)
	return p, text
}

// unit is a run in which every key reads 100 ohm but those named.
func unit(p *product.Product, serial string, ohms map[string]float64) sequence.Run {
	run := sequence.Run{
		Serial: serial, Product: p.Code, Revision: p.Revision, Hash: p.Hash(), Outcome: sequence.Pass,
		Started: time.Date(2026, 3, 2, 7, 15, 4, 0, time.UTC), Jig: sequence.JigName{Serial: "J-0007"}, Attempt: 1,
		Actuation: sequence.Mechanical, Steps: []sequence.StepDone{{Name: "keys", Done: true}},
	}
	for _, k := range p.Keys {
		ohm, odd := ohms[k.Label]
		if !odd {
			ohm = 100
		}
		r := sequence.KeyResult{Key: k.Label, Lines: [2]string{p.Lines[k.A].Name, p.Lines[k.B].Name}, Verdict: sequence.KeyPass,
			Closed: &fixture.Resistance{Value: quantity.Ohm(ohm), U: 0.5}, Make: &fixture.Bounce{}, Break: &fixture.Bounce{}}
		if r.Closed.Value > k.Limits.ClosedMax {
			r.Verdict, run.Outcome = sequence.KeyFail, sequence.Fail
			run.Findings = append(run.Findings, sequence.Finding{What: "key high", Key: k.Label, Place: "key " + k.Label,
				At: sequence.Fact(sequence.AtKey, k.Label, r.Lines[0], r.Lines[1])})
		}
		run.Keys = append(run.Keys, r)
	}
	return run
}

func save(t *testing.T, s *results.Store, p *product.Product, run sequence.Run) runs.Stored {
	t.Helper()
	id, err := s.Runs.Save(t.Context(), runs.Revision{Code: p.Code, Title: p.Title, Label: p.Revision, Hash: p.Hash(), Definition: p.Canonical()}, run)
	require.NoError(t, err)
	stored, err := s.Runs.Run(t.Context(), id)
	require.NoError(t, err)
	return stored
}

func opened(t *testing.T) *results.Store {
	t.Helper()
	s, err := results.Open(context.Background(), filepath.Join(t.TempDir(), "padjig.db"))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s
}

func codes(list []answers.Sentence) (out []string) {
	for _, s := range list {
		out = append(out, s.Code)
	}
	return out
}

// What a revision would have done to units of before: which would change their verdict,
// which cannot be judged anew, and how the reference units would end.
func TestARevisionIsTriedOnWhatWasRecorded(t *testing.T) {
	s := opened(t)
	p, _ := parsed(t)
	none, err := trial.Of(t.Context(), s, trial.Asked{Proposed: p})
	require.NoError(t, err)
	assert.Zero(t, none.Units)
	assert.Equal(t, []string{"trial.none"}, codes(none.Conclusions))

	save(t, s, p, unit(p, p.Serial.Complete(1), nil))
	save(t, s, p, unit(p, p.Serial.Complete(2), map[string]float64{"7": 240}))
	save(t, s, p, unit(p, p.Serial.Complete(3), map[string]float64{"8": 900}))
	again := unit(p, p.Serial.Complete(2), nil)
	again.Attempt = 2
	save(t, s, p, again) // a retest changes nothing: the first judged run counts
	practice := unit(p, p.Serial.Complete(9), map[string]float64{"7": 240})
	practice.Simulated = true
	save(t, s, p, practice)
	for name, c := range map[string]struct {
		from, to string
		rejects  []string
		through  []string
		unsure   int
		blind    int
	}{
		"looser":       {"at most 200 ohm", "at most 400 ohm", []string{}, []string{p.Serial.Complete(2)}, 0, 0},
		"ten times":    {"at most 200 ohm", "at most 2 kohm", []string{}, []string{p.Serial.Complete(2), p.Serial.Complete(3)}, 0, 0},
		"tighter":      {"at most 200 ohm", "at most 90 ohm", []string{p.Serial.Complete(1)}, []string{}, 0, 0},
		"in the band":  {"at most 200 ohm", "at most 100.2 ohm", []string{p.Serial.Complete(1)}, []string{}, 3, 0},
		"not seen":     {"insulation resistance: at least 10 Mohm", "insulation resistance: at least 12 Mohm", []string{}, []string{}, 0, 1},
		"a key less":   {"<     >     MENU  OK", "<     >     MENU  -", []string{}, []string{}, 3, 1},
		"more allowed": {"attempts: 2", "attempts: 3", []string{}, []string{}, 0, 1},
	} {
		q, _ := parsed(t, c.from, c.to, "revision: C", "revision: D")
		got, err := trial.Of(t.Context(), s, trial.Asked{Proposed: q, InForce: p})
		require.NoError(t, err)
		assert.Equal(t, 3, got.Units, name)
		assert.False(t, got.Simulated, name)
		assert.Equal(t, c.rejects, got.Rejects, name)
		assert.Equal(t, c.through, got.LetThrough, name)
		if name != "a key less" {
			assert.Equal(t, c.unsure, got.Unsure, name)
			assert.Len(t, got.Blind, c.blind, "%s: %+v", name, got.Blind)
		}
	}
}

// A reference unit that would no longer be failed for its fault is told of, and one that
// was never checked.
func TestReferenceUnitsAreTried(t *testing.T) {
	s := opened(t)
	refs := "attempts: 2\nreferences:\n  good: " + gcc(t, 50) + "\n  bad:\n    " + gcc(t, 51) + ": key high at 7\n    " + gcc(t, 52) + ": key open at 1\n"
	p, _ := parsed(t, "attempts: 2\n", refs)
	good := save(t, s, p, unit(p, gcc(t, 50), nil))
	bad := save(t, s, p, unit(p, gcc(t, 51), map[string]float64{"7": 240}))
	for _, c := range []care.ReferenceCheck{{Run: good.ID, Unit: good.Serial}, {Run: bad.ID, Unit: bad.Serial, Bad: true}} {
		require.NoError(t, s.Care.SaveReferenceCheck(t.Context(), c))
	}
	for limit, want := range map[string][]string{
		"200 ohm": {"trial.none", "trial.reference.shows", "trial.reference.shows", "trial.reference.untried"},
		"400 ohm": {"trial.none", "trial.reference.shows", "trial.reference.fails", "trial.reference.untried"},
		"90 ohm":  {"trial.none", "trial.reference.fails", "trial.reference.fails", "trial.reference.untried"},
	} {
		q, _ := parsed(t, "attempts: 2\n", refs, "at most 200 ohm", "at most "+limit, "revision: C", "revision: D")
		got, err := trial.Of(t.Context(), s, trial.Asked{Proposed: q, InForce: p})
		require.NoError(t, err)
		assert.Equal(t, want, codes(got.Conclusions), limit)
	}
}

func gcc(t *testing.T, n int) string {
	p, _ := parsed(t)
	return p.Serial.Complete(n)
}

// Where units before and after a release that lets more through are counted together, the
// yield says so, and what each revision yields.
func TestAYieldSaysWhereMoreWasLetThrough(t *testing.T) {
	s := opened(t)
	p, text := parsed(t)
	require.NoError(t, releasestest.Release(t.Context(), s, text))
	save(t, s, p, unit(p, p.Serial.Complete(1), map[string]float64{"7": 240}))
	q, looser := parsed(t, "at most 200 ohm", "at most 400 ohm", "revision: C", "revision: D")
	require.NoError(t, releasestest.Release(t.Context(), s, looser))
	save(t, s, q, unit(q, q.Serial.Complete(2), map[string]float64{"7": 240}))
	ask := func(by ...lines.Dimension) []string {
		y, err := answers.AskYield(t.Context(), s, answers.YieldAsked{Selection: answers.Selection{Filter: lines.Filter{Product: "GCC-20"}}, By: by})
		require.NoError(t, err)
		return codes(y.Conclusions)
	}
	assert.Equal(t, []string{"yield.words", "yield.loosened", "yield.revision", "yield.revision"}, ask()[:4])
	assert.NotContains(t, ask(lines.ByRevision), "yield.loosened", "there they stand apart")
}
