package station

import (
	"context"

	"padjig/results/runs"
	"padjig/sequence"
)

// alikeMost is how often in a row a unit may read like another. The first time the pads
// are put right; when it does so again, with the stop lifted in between, only somebody who has
// both in hand can say that they are two.
const alikeMost = 2

// compare holds what was read against the units before: a pad that was left in the
// jig, or put in under another label, reads as it did. That is no pass and no attempt;
// what was found stays a fail and says so too, and so does the pass of a unit of which
// somebody has decided that it is another.
func (t *test) compare(ctx context.Context) error {
	judged := t.run.Outcome == sequence.Pass || t.run.Outcome == sequence.Fail
	if !judged || t.isReference() || t.run.Purpose != sequence.Production {
		return nil // reference units, studies and stages of a case come again on purpose
	}
	c, err := t.Store.Pads.Before(ctx, runs.Stored{Run: t.run})
	switch {
	case err == nil && c.Said().Code == "", err != nil && t.run.Outcome == sequence.Fail:
		return nil
	case err != nil:
		t.run.Why = sequence.Fact(sequence.NotCompared, err.Error())
	default:
		t.run.Why = c.Said()
	}
	twoPads := err == nil && t.Overridden && t.history.Of(t.Product.Code, t.run.Simulated).Alike >= alikeMost
	if t.run.Outcome == sequence.Pass && !twoPads {
		t.run.Outcome = sequence.Incomplete
	}
	sequence.Plain().Spell(&t.run)
	return nil
}
