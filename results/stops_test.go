package results

import (
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/care"
	"padjig/results/runs/runstest"
	"padjig/results/stops"
	"padjig/sequence"
	"padjig/sequence/product"
)

var (
	greenhouse = stops.Line{Jig: "J-0007", Product: "GH-20"}
	usual      = &product.Product{Code: "GH-20", Stops: product.UsualStops()}
)

// tested stores runs as a jig here makes them.
func tested(t *testing.T, s *Store, runs ...sequence.Run) {
	t.Helper()
	for _, run := range runs {
		b := begin(t, s, run)
		run.Attempt = b.Attempt
		_, err := b.Save(t.Context(), run)
		require.NoError(t, err)
	}
}

func failed(from, to int) (list []sequence.Run) {
	for n := from; n <= to; n++ {
		list = append(list, runstest.Failed(fmt.Sprintf("24-%06d", n)))
	}
	return list
}

func holding(t *testing.T, s *Store, unit string) []stops.Stop {
	t.Helper()
	list, err := s.Stops.Holding(t.Context(), greenhouse, usual, unit)
	require.NoError(t, err)
	return list
}

// Runs of before the rules were there stop no line when a store is brought up to date, nor do
// runs that were read in: nobody could have stopped them.
func TestStopsBeginWithTheRules(t *testing.T) {
	s := openChecked(t, before(t, 23, "runs23.sql"), testSeams())
	assert.Empty(t, holding(t, s, ""))
	tested(t, s, failed(4, 5)...)
	assert.Empty(t, holding(t, s, ""))
	_, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Failed("24-000009")) // made on no jig here
	require.NoError(t, err)
	assert.Empty(t, holding(t, s, ""))
	tested(t, s, failed(6, 6)...)
	require.Len(t, holding(t, s, ""), 1)
}

// What is asked for a unit is told beside what holds for the line; the clock that people
// set says when, and never which runs count, nor for how long a stop held.
func TestStopsAndTheClock(t *testing.T) {
	now := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	with := testSeams()
	with.Now = func() time.Time { return now }
	s := openChecked(t, filepath.Join(t.TempDir(), "padjig.db"), with)
	reseat := runstest.Passed("24-000020")
	reseat.Outcome, reseat.Seats[0].Good, reseat.Why = sequence.Reseat, false, sequence.Fact(sequence.SeatDoubtful, "pin 1 (R1)")
	sequence.Plain().Spell(&reseat)
	tested(t, s, failed(1, 2)...)
	now = now.AddDate(-1, 0, 0) // set back by a year
	tested(t, s, reseat, reseat)
	tested(t, s, failed(3, 3)...)
	held := holding(t, s, "24-000020")
	require.Len(t, held, 2)
	assert.Equal(t, []stops.Rule{stops.SameFinding, stops.Reseats}, []stops.Rule{held[0].Rule, held[1].Rule})
	assert.Equal(t, []int{1}, held[1].Pins)
	assert.Len(t, holding(t, s, "24-000021"), 1)

	now = now.AddDate(0, 0, -1)
	lifted, err := s.Stops.Lift(t.Context(), held[0].Number, stops.Lifting{By: "Quinn", Reason: stops.Cleaned})
	require.NoError(t, err)
	assert.GreaterOrEqual(t, lifted.Lifted.Took, time.Duration(0))
	assert.Less(t, lifted.Lifted.Took, time.Hour)
	assert.Empty(t, holding(t, s, "24-000020"), "what held for the unit went with it")
	_, err = s.Stops.Lift(t.Context(), held[1].Number, stops.Lifting{By: "Eve", Reason: stops.Cleaned})
	assert.ErrorContains(t, err, "was lifted by Quinn")
	list, err := s.Stops.List(t.Context(), false)
	require.NoError(t, err)
	require.Len(t, list, 2)
	assert.Equal(t, "Quinn", list[0].Lifted.By)
	simulated, err := s.Stops.List(t.Context(), true)
	require.NoError(t, err)
	assert.Empty(t, simulated)
}

// The window of a yield is looked at in whole, however many runs lie between its units.
func TestStopsSeeTheWholeWindow(t *testing.T) {
	s := openTemp(t)
	p := &product.Product{Code: "GH-20", Stops: product.Stops{Yield: 0.9, Of: 20}}
	for n := range 20 {
		run := runstest.Passed(fmt.Sprintf("24-%06d", n))
		if n < 3 {
			run = runstest.Failed(run.Serial)
		}
		again := runstest.Passed(run.Serial)
		again.Outcome, again.Reason = sequence.Incomplete, "a step of the plan was not done"
		tested(t, s, run, again, again, again)
		reference := runstest.Passed("REF-1")
		b := begin(t, s, reference)
		reference.Attempt = b.Attempt
		id, err := b.Save(t.Context(), reference)
		require.NoError(t, err)
		require.NoError(t, s.Care.SaveReferenceCheck(t.Context(), care.ReferenceCheck{Run: id, Unit: "REF-1"}))
		held, err := s.Stops.Holding(t.Context(), greenhouse, p, "")
		require.NoError(t, err)
		require.Len(t, held, n/19, "unit %d", n)
	}
	assert.Equal(t, 17, holding(t, s, "")[0].Count)
}
