package conflict_test

import (
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/floor"
	"padjig/results/plant/conflict"
	"padjig/results/plant/forward"
	"padjig/results/plant/planttest"
	"padjig/results/runs"
	"padjig/results/runs/runstest"
	"padjig/sequence"
)

var server *planttest.Server

func TestMain(m *testing.M) { planttest.Run(m, &server) }

// Every way in which records of two stations can speak against each other is found in a plant, and nothing else is.
func TestAsk(t *testing.T) {
	db := server.Plant(t)
	day := time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)
	var stations [2]*results.Store
	var entries [2][]results.Entry
	for n := range stations {
		s, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "station.sqlite"))
		require.NoError(t, err)
		t.Cleanup(func() { assert.NoError(t, s.Close()) })
		stations[n] = s
	}
	add := func(n, minute int, serial string, change func(*sequence.Run, *runs.Revision)) {
		run, rev := runstest.Passed(serial), runstest.Climate()
		run.Simulated, run.Jig.Serial = true, fmt.Sprint("J-", n)
		// Seconds after the other station: how far clocks are apart is measured, and equal times would be in any order.
		ended := day.Add(time.Duration(minute)*time.Minute + time.Duration(n)*5*time.Second)
		run.Duration = sequence.Seconds(10 * time.Second)
		run.Started = ended.Add(-10 * time.Second)
		if change != nil {
			change(&run, &rev)
		}
		run.Product, run.Revision, run.Hash = rev.Code, rev.Label, rev.Hash
		entries[n] = append(entries[n], results.Entry{At: ended, Run: &run, Revision: &rev})
	}
	lots := func(n, minute int, product, lot string) {
		c := floor.LotChange{Jig: fmt.Sprint("J-", n), Product: product, Simulated: true, By: "Ines", Lots: floor.Lots{"membrane": lot, "dome": lot}}
		entries[n] = append(entries[n], results.Entry{At: day.Add(time.Duration(minute) * time.Minute), Lots: &c})
	}
	add(0, 1, "own-1", nil)
	add(1, 2, "own-2", nil)
	add(0, 3, "passed", nil)
	add(1, 4, "passed", nil)
	add(0, 5, "failed", func(r *sequence.Run, _ *runs.Revision) { *r = simulated(runstest.Failed("failed"), *r) })
	add(1, 6, "failed", func(r *sequence.Run, _ *runs.Revision) { *r = simulated(runstest.Failed("failed"), *r) })
	add(0, 7, "went-on", func(r *sequence.Run, _ *runs.Revision) { *r = simulated(runstest.Failed("went-on"), *r) })
	add(1, 8, "went-on", func(r *sequence.Run, _ *runs.Revision) { r.Attempt = 2 })
	add(0, 9, "both", nil)
	add(1, 9, "both", func(r *sequence.Run, _ *runs.Revision) { r.Duration = sequence.Seconds(20 * time.Second) })
	add(0, 10, "two", nil)
	add(1, 11, "two", func(_ *sequence.Run, rev *runs.Revision) { rev.Code = "GH-12" })
	add(0, 12, "jig-0", func(r *sequence.Run, _ *runs.Revision) { r.Jig.Serial = "J-9" })
	add(1, 12, "jig-1", func(r *sequence.Run, _ *runs.Revision) { r.Jig.Serial = "J-9" })
	for n := range stations {
		add(n, 13, fmt.Sprint("label-", n), func(_ *sequence.Run, rev *runs.Revision) {
			*rev = runstest.Defined(fmt.Sprintf(`{"of":%d}`, n))
			rev.Label = "D"
		})
	}
	lots(0, 14, "GH-20", "M-17")
	lots(1, 15, "GH-12", "M-17")
	lots(1, 16, "GH-20", "M-18")
	for n, s := range stations {
		list := make(chan results.Entry, len(entries[n]))
		for _, e := range entries[n] {
			list <- e
		}
		close(list)
		require.NoError(t, s.ImportSimulated(t.Context(), uint64(n), list, nil))
		_, err := forward.All(t.Context(), db, s, fmt.Sprint("line-", n))
		require.NoError(t, err)
	}
	plant := results.Over(db, "plant")
	ask := func(a conflict.Asked) []string {
		answer, err := conflict.Ask(t.Context(), plant, a)
		require.NoError(t, err)
		var list []string
		for _, c := range answer.Conflicts {
			require.GreaterOrEqual(t, len(c.Known), 2)
			list = append(list, fmt.Sprintf("%s: %s of %s at %s", c.Code, c.Of, c.Product, c.Known[0].Station))
		}
		return list
	}
	everything := []string{
		"overlap: both of GH-20 at line-1", // it began there
		"passed elsewhere: both of GH-20 at line-0",
		"passed elsewhere: passed of GH-20 at line-0",
		"two products: two of  at line-0",
		"attempt again: failed of GH-20 at line-0",
		"jig twice: J-9 of GH-20 at line-0",
		"label twice: D of GH-20 at line-0",
		"lot twice: M-17 of  at line-0",
	}
	assert.Equal(t, everything, ask(conflict.Asked{}))
	assert.Equal(t, everything[3:4], ask(conflict.Asked{Serial: "two"}))
	assert.Empty(t, ask(conflict.Asked{Serial: "own-1"}))
	assert.Empty(t, ask(conflict.Asked{Since: day.Add(24 * time.Hour)}))
	assert.Equal(t, everything[:2], ask(conflict.Asked{Most: 2}))

	// One that somebody decided is none.
	_, err := db.ExecContext(t.Context(), `INSERT INTO override (seq, what, serial, jig, by, reason, after_run, at_us, member, local)
		VALUES (4098, 'passed already', 'passed', 'J-1', 'Quinn', 'asked for', 0, ?, 2, 1)`, day.Add(3*time.Minute+30*time.Second).UnixMicro())
	require.NoError(t, err)
	assert.NotContains(t, ask(conflict.Asked{}), "passed elsewhere: passed of GH-20 at line-0")

	// The same run under the number of another station, as forwarding refuses to bring it.
	_, err = db.ExecContext(t.Context(), `INSERT INTO run (seq, id, serial, revision, jig, station, simulated, actuation, operator, attempt, started_us,
			duration_us, outcome, reason, saved_us, steps, seats, keys, pairs, findings, hash, purpose, exercised, insulation, member, local)
		SELECT seq - member + 2, id, serial, revision, jig, station, simulated, actuation, operator, attempt, started_us,
			duration_us, outcome, reason, saved_us, steps, seats, keys, pairs, findings, hash, purpose, exercised, insulation, 2, 99
		FROM run WHERE serial = 'own-1'`)
	require.NoError(t, err)
	answer, err := conflict.Ask(t.Context(), plant, conflict.Asked{})
	require.NoError(t, err)
	assert.Contains(t, codesOf(answer), conflict.RunTwice)
}

func codesOf(a conflict.Answer) (all []conflict.Code) {
	for _, c := range a.Conflicts {
		all = append(all, c.Code)
	}
	return all
}

// simulated is a run that ended otherwise, in the place of another.
func simulated(run, in sequence.Run) sequence.Run {
	run.Simulated, run.Jig, run.Started, run.Duration = true, in.Jig, in.Started, in.Duration
	return run
}
