package station

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/results/accounts"
	"padjig/results/returns"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/runner"
)

// A station that joins lines and presses nothing makes no stage of a returns case.
func TestAStageNeedsItsKeysPressed(t *testing.T) {
	for _, purpose := range []sequence.Purpose{sequence.FirstPress, sequence.ReturnTest, sequence.Exercise} {
		_, err := Job{Product: new(product.Product), Return: &Return{Purpose: purpose}}.pressed(fixture.Capabilities{}, sequence.Electrical)
		require.ErrorAs(t, err, new(runner.Problems))
		assert.ErrorContains(t, err, "a stage of a returns case needs its keys pressed", purpose)
	}
}

// The stages of a case are made in their order, of its unit and its product, on
// one sort of jig, and by a revision that was in force or that the unit was made
// by: whatever else is asked for, nothing moves.
func TestStagesInTheirOrder(t *testing.T) {
	stage := func(s *stand, c returns.Case, p sequence.Purpose) *candidate {
		j, _ := s.job(s.unit(1))
		j.Return = &Return{Case: c, Purpose: p, Exercising: sequence.Exercising{Presses: 2}}
		return j
	}
	at(t, "", func(s *stand) {
		j, _ := s.job(s.unit(1))
		s.done(j)
		c := s.came(s.unit(1))
		s.turnedAway(j, Returned)
		s.turnedAway(stage(s, c, sequence.Exercise), StageRefused)
		s.turnedAway(stage(s, c, sequence.ReturnTest), StageRefused)
		done := s.done(stage(s, c, sequence.FirstPress))
		assert.Equal(s, sequence.FirstPress, done.Purpose)
		assert.Equal(s, 1, done.Attempt)
		s.turnedAway(stage(s, c, sequence.FirstPress), StageRefused)
		s.turnedAway(stage(s, c, sequence.Exercise), StageRefused)
		assert.Equal(s, sequence.ReturnTest, s.done(stage(s, c, sequence.ReturnTest)).Purpose)
		assert.Equal(s, 2, s.done(stage(s, c, sequence.ReturnTest)).Attempt)
		assert.Equal(s, sequence.Exercise, s.done(stage(s, c, sequence.Exercise)).Purpose)

		electrical := stage(s, c, sequence.ReturnTest)
		electrical.How = sequence.Electrical
		s.turnedAway(electrical, NotPlanned)

		another := stage(s, c, sequence.ReturnTest)
		another.Product = parsed(s, swap(gcc(s), "product: GCC-20", "product: GCC-21"))
		s.turnedAway(another, OtherProduct)
	})
	at(t, "", func(s *stand) { // by which revision
		j, _ := s.job(s.unit(1)) // made by C, before there were releases
		s.done(j)
		s.release("D", "150 ohm")
		s.release("E", "140 ohm")
		c := s.came(s.unit(1))
		s.done(stage(s, c, sequence.FirstPress)) // by C
		by := func(label, limit string) *candidate {
			j := stage(s, c, sequence.ReturnTest)
			j.Product = parsed(s, swap(swap(gcc(s), "revision: C", "revision: "+label), "at most 200 ohm", "at most "+limit))
			return j
		}
		s.done(by("D", "150 ohm"))
		s.turnedAway(by("F", "130 ohm"), NotReleased)
		s.turnedAway(by("D", "120 ohm"), LabelTaken)
		s.spoil(`ALTER TABLE run RENAME TO gone`)
		j = by("F", "130 ohm")
		_, err := j.TestOn(s.Context(), s.opener)
		assert.Equal(s, NoRecords, RefusalOf(err).Code)
	})
	at(t, "", func(s *stand) { // the case is closed, or lost, between two looks
		c := s.came(s.unit(1))
		j := stage(s, c, sequence.FirstPress)
		moves := s.moves()
		_, err := j.TestOn(s.Context(), func(ctx context.Context) (*fixture.Jig, func() error, error) {
			other := stage(s, c, sequence.FirstPress)
			s.done(other)
			moves = s.moves()
			return s.opener(ctx)
		})
		assert.Equal(s, StageRefused, RefusalOf(err).Code, "%v", err)
		assert.Equal(s, moves, s.moves())
		c.Number = 99
		s.turnedAway(stage(s, c, sequence.FirstPress), NoRecords)
	})
}

// Damage that can be seen ends electrical testing of a case.
func TestADamagedUnitIsNotTested(t *testing.T) {
	at(t, "", func(s *stand) {
		c, err := s.store.Returns.OpenCase(s.Context(), s.unit(1), s.product.Code, returns.Intake{
			Received: time.Now(), Complaint: "key dead", Conditions: []string{"burnt"}, By: "Rosa",
		})
		require.NoError(s, err)
		j, _ := s.job(s.unit(1))
		j.Return = &Return{Case: c, Purpose: sequence.FirstPress}
		s.turnedAway(j, StageRefused)
	})
}

// What is no stage of a case is not made for one: a production test presses
// harder than the first press that must come before it.
func TestOnlyStagesAreMadeOfACase(t *testing.T) {
	for _, purpose := range []sequence.Purpose{sequence.Production, sequence.GaugeStudy, "curiosity"} {
		at(t, "", func(s *stand) {
			j, _ := s.job(s.unit(1))
			j.Return = &Return{Case: s.came(s.unit(1)), Purpose: purpose}
			s.turnedAway(j, StageRefused)
		})
	}
}

// A case is on simulated jigs or on real ones, and about one unit: what would mix
// them is refused before anything moves.
func TestACaseIsNotMixed(t *testing.T) {
	at(t, "", func(s *stand) {
		c := s.came(s.unit(1))
		j, _ := s.job(s.unit(1))
		j.Return = &Return{Case: c, Purpose: sequence.FirstPress}
		s.done(j)
		s.pretend(true)
		s.calibrated(time.Now(), true)
		j, _ = s.job(s.unit(1))
		j.Return = &Return{Case: c, Purpose: sequence.ReturnTest}
		s.turnedAway(j, StageRefused)
		s.pretend(false)
		s.done(j)
		j, _ = s.job(s.unit(2))
		j.Return = &Return{Case: c, Purpose: sequence.ReturnTest}
		s.turnedAway(j, StageRefused)
	})
}

// ended closes a case as repaired and with what becomes of its unit.
func (s *stand) ended(c returns.Case, disposal string) {
	s.Helper()
	require.NoError(s, s.store.Returns.Dispose(s.Context(), c, returns.Disposition{
		Code: returns.Confirmed, Disposal: disposal, By: "Rosa", Corrects: true, Answers: map[string]string{
			string(returns.NothingFound): "seen at the customer's", string(returns.GoodUnitScrapped): "not worth it", string(returns.NothingRepaired): "done elsewhere",
		},
	}))
}

// repair records that something was done to the unit.
func (s *stand) repair(serial string) {
	s.Helper()
	require.NoError(s, s.store.Returns.SaveRework(s.Context(), returns.Rework{
		Serial: serial, Deed: "contact cleaned", Place: returns.Place{Kind: returns.AtKey, Name: "7"}, By: "Ines", Done: time.Now(),
	}, s.product))
}

// A unit whose case is open or closed is not tested for production, unless it goes back
// there: then its attempts begin anew, and never as a first one.
func TestTheWayBackToProduction(t *testing.T) {
	for _, disposal := range returns.Disposals {
		at(t, "", func(s *stand) {
			j, _ := s.job(s.unit(1))
			s.done(j)
			c := s.came(s.unit(1))
			s.turnedAway(j, Returned)
			s.ended(c, disposal)
			if disposal != returns.ToProduction {
				s.turnedAway(j, NotForProduction)
				j.Overridden = true
				s.turnedAway(j, NotForProduction)
				return
			}
			s.put("key 7 open")
			assert.Equal(s, 2, s.done(j).Attempt)
			assert.Equal(s, 3, s.done(j).Attempt)
			s.turnedAway(j, AttemptsUsed) // as many as a new one has
			s.ended(c, returns.Scrapped)
			s.turnedAway(j, NotForProduction)
		})
	}
	at(t, "", func(s *stand) { // never tested here before
		s.ended(s.came(s.unit(1)), returns.ToProduction)
		j, d := s.job(s.unit(1))
		done := s.done(j)
		assert.Equal(s, 2, done.Attempt)
		assert.Equal(s, 1+s.product.Attempts, d.limit)
		s.turnedAway(j, PassedAlready)
	})
	at(t, "", func(s *stand) { // it is taken in while the test waits for its jig
		j, _ := s.job(s.unit(1))
		moves := s.moves()
		_, err := j.TestOn(s.Context(), func(ctx context.Context) (*fixture.Jig, func() error, error) {
			s.came(s.unit(1))
			return s.opener(ctx)
		})
		assert.Equal(s, Returned, RefusalOf(err).Code, "%v", err)
		assert.Equal(s, moves, s.moves())
	})
}

// A unit that failed again after as many repairs as its product allows is tested once more
// when an engineer has decided so, and not for another override or another repair.
func TestAnEngineerDecidesAboutTheLoop(t *testing.T) {
	at(t, "", func(s *stand) {
		s.product = parsed(s, swap(gcc(s), "attempts: 2", "attempts: 9")+"\nrepair loops: 1\n")
		s.put("key 7 open")
		j, d := s.job(s.unit(1))
		s.done(j)
		s.repair(s.unit(1))
		assert.NotContains(s, d.warnings, Repaired)
		s.done(j)
		s.repair(s.unit(1))
		s.turnedAway(j, RepairLoop)
		j.Overridden = true
		s.turnedAway(j, RepairLoop)
		decide := func() {
			require.NoError(s, s.store.Accounts.SaveOverride(s.Context(), accounts.Override{What: returns.RepairLoop, Serial: s.unit(1), By: "Ines", Reason: "new membrane"}))
		}
		decide()
		j.Overridden = false
		s.done(j)
		assert.Contains(s, d.warnings, Repaired, "how often is said when it is scanned")
		s.turnedAway(j, RepairLoop) // once
		decide()
		s.put("")
		s.done(j)
	})
}
