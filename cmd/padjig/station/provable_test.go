package station

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/wire"
	"padjig/sequence"
)

// A jig that cannot prove what the product requires tests no unit of it for production, by
// whatever way somebody comes: it could not pass. Whoever asks for a part of the test gets
// that, told before anything moves, and no pass.
func TestAJigThatCannotProveTheProduct(t *testing.T) {
	seating := func(s *stand) {
		s.product = parsed(s, swap(gcc(s), "test: {", "test: {also required: seating, "))
		s.replace(func(id *wire.Identity) { id.Features &^= wire.FeatureLoop })
	}
	at(t, "", func(s *stand) {
		seating(s)
		j, _ := s.job(s.unit(1))
		s.turnedAway(j, NotProvable)
		j.Overridden = true // somebody may decide on attempts, not on what was proved
		s.turnedAway(j, NotProvable)

		j, d := s.job(s.unit(1))
		j.Partial = true
		done := s.done(j)
		assert.Equal(s, []Code{PartialTest}, d.warnings)
		assert.Equal(s, sequence.Incomplete, done.Outcome)
		assert.Equal(s, sequence.Fact(sequence.NotProved, "seating"), done.Why)

		j, _ = s.job(s.unit(1))
		j.How = sequence.Electrical
		assert.Equal(s, sequence.HarnessGood, s.done(j).Outcome, "it passes nothing anyhow")

		j, d = s.job(s.unit(1))
		j.Study = true
		assert.Equal(s, sequence.Pass, s.done(j).Outcome, "a reading of a study: what the jig shows")
		assert.Empty(s, d.warnings)

		h, err := s.store.Runs.History(s.Context(), s.unit(1))
		require.NoError(s, err)
		assert.Zero(s, h.Of(s.product.Code, true).Used(), "no attempt was used up")
	})
	at(t, "", func(s *stand) { // at the returns desk what can be seen is looked at
		j, _ := s.job(s.unit(1))
		s.done(j)
		c := s.came(s.unit(1))
		s.replace(func(id *wire.Identity) { id.Features &^= wire.FeatureLoop })
		s.product = parsed(s, swap(swap(gcc(s), "test: {", "test: {also required: seating, "), "revision: C", "revision: D"))
		for _, stage := range []struct {
			purpose  sequence.Purpose
			warnings []Code
			outcome  sequence.Outcome
		}{
			{sequence.FirstPress, nil, sequence.Pass}, {sequence.ReturnTest, []Code{PartialTest}, sequence.Incomplete},
			{sequence.Exercise, nil, sequence.Pass},
		} {
			j, d := s.job(s.unit(1))
			j.Return = &Return{Case: c, Purpose: stage.purpose, Exercising: sequence.Exercising{Presses: 2}}
			assert.Equal(s, stage.outcome, s.done(j).Outcome, stage.purpose)
			assert.Equal(s, stage.warnings, d.warnings, stage.purpose)
		}
	})
}
