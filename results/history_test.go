package results

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/runs"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
)

func TestHistory(t *testing.T) {
	s := openTemp(t)
	other := runstest.Defined(`{"code":"GH-6","keys":6}`)
	other.Code, other.Label = "GH-6", "A"
	for i, c := range []struct {
		rev       runs.Revision
		outcome   sequence.Outcome
		simulated bool
	}{
		{other, sequence.Fail, false},
		{runstest.Climate(), sequence.Reseat, false},
		{runstest.Climate(), sequence.Pass, true},
		{runstest.Climate(), sequence.Fail, false},
		{other, sequence.Pass, false},
		{other, sequence.Aborted, false},
	} {
		run := runstest.Passed("24-000001")
		if c.outcome != sequence.Pass {
			run = runstest.Failed("24-000001")
		}
		run.Product, run.Revision, run.Hash = c.rev.Code, c.rev.Label, c.rev.Hash
		run.Outcome, run.Simulated, run.Attempt = c.outcome, c.simulated, i+1
		_, err := s.Runs.Save(t.Context(), c.rev, run)
		require.NoError(t, err)
	}
	_, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000002"))
	require.NoError(t, err)

	got, err := s.Runs.History(t.Context(), "24-000001")
	require.NoError(t, err)
	want := runs.History{Serial: "24-000001", Products: []runs.Attempts{
		{Product: "GH-6", Runs: 3, Judged: 2, Found: 1, Attempt: 6, Failed: 6, Passed: true, PassedAs: "A", Last: sequence.Aborted},
		{Product: "GH-20", Runs: 2, Judged: 1, Attempt: 4, Failed: 4, Last: sequence.Fail},
		{
			Product: "GH-20", Simulated: true, Runs: 1, Judged: 1, Attempt: 3, Passed: true, PassedAs: "C",
			Last: sequence.Pass,
		},
	}}
	assert.Equal(t, want, said(got))
	assert.Equal(t, want.Products[2], got.Of("GH-20", true))
	assert.Equal(t, runs.Attempts{Product: "GH-1"}, got.Of("GH-1", false))

	none, err := s.Runs.History(t.Context(), "24-000003")
	require.NoError(t, err)
	assert.Equal(t, runs.History{Serial: "24-000003"}, said(none))
}

// said is what a history says, without what it goes by.
func said(h runs.History) runs.History {
	return runs.History{Serial: h.Serial, Products: h.Products, InHand: h.InHand, Past: h.Past}
}

func TestRecent(t *testing.T) {
	s := openTemp(t)
	for i := range 3 {
		run := runstest.Passed(fmt.Sprint(i))
		if i == 2 {
			run = runstest.Failed("2")
		}
		_, err := s.Runs.Save(t.Context(), runstest.Climate(), run)
		require.NoError(t, err)
	}
	list, err := s.Runs.Recent(t.Context(), 2)
	require.NoError(t, err)
	require.Len(t, list, 2)
	assert.Equal(t, "1", list[1].Serial)
	first := list[0]
	assert.False(t, first.ID.IsZero())
	first.ID = store.ID{}
	run := runstest.Failed("2")
	assert.Equal(t, runs.Summary{
		Seq: 3, Serial: "2", Product: "GH-20", Revision: "C", Jig: "J-0007", Operator: "Ines", Actuation: run.Actuation, Attempt: 1, Turn: 1,
		Started: run.Started, Duration: time.Duration(run.Duration), Outcome: sequence.Fail, Findings: 3,
		Worst: "key open: key 1 (R1-C1)",
	}, first)
	for n, want := range map[int]int{0: 0, -1: 0, 99: 3} {
		list, err := s.Runs.Recent(t.Context(), n)
		require.NoError(t, err)
		assert.Len(t, list, want)
	}
}
