package results

import (
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/store"
)

// Two processes race for one unit, again and again: one of them has it each
// time, the other is told who, and no attempt is given twice.
func TestTwoProcessesRaceForOneUnit(t *testing.T) {
	path := filepath.Join(t.TempDir(), "padjig.db")
	two := []*child{startTester(t, path), startTester(t, path)}
	wins := map[*child]int{}
	for round := range 100 {
		for _, c := range two {
			c.order(t, "begin")
		}
		var winner *child
		answers := map[string]string{} // what was said, and of which start
		for _, c := range two {
			words := c.said(t)
			if words[0] == "began" {
				winner = c
				assert.Equal(t, strconv.Itoa(round+1), words[2], "attempt")
				answers["began"] = words[1]
			} else {
				answers[words[0]+" "+words[1]] = words[2]
			}
		}
		require.Len(t, answers, 2, "one began, the other did not: %v", answers)
		assert.Equal(t, answers["began"], answers["in hand"])
		wins[winner]++
		winner.order(t, "save")
		require.Equal(t, "saved", winner.said(t)[0])
	}
	t.Logf("won %d and %d times", wins[two[0]], wins[two[1]])
	for _, c := range two {
		require.NoError(t, c.orders.Close())
		require.NoError(t, c.Wait(), c.stderr.String())
	}
	s := openChecked(t, path, testSeams())
	h, err := s.Runs.History(t.Context(), "24-000001")
	require.NoError(t, err)
	assert.Equal(t, 101, h.Of("GH-20", false).Next())
}

// A process is killed with the unit in hand: at the next start of any process,
// or when another that runs already asks for the unit, the start is unfinished.
func TestHolderIsKilled(t *testing.T) {
	for name, asks := range map[string]func(t *testing.T, path string, other *child){
		"another asks": func(t *testing.T, _ string, other *child) {
			other.order(t, "begin")
			assert.Equal(t, "2", other.said(t)[2], "attempt")
		},
		"a process starts": func(t *testing.T, path string, _ *child) {
			s := openChecked(t, path, testSeams())
			closed, err := store.Collect(t.Context(), raw(s), store.ScanText, `SELECT start FROM starts WHERE unfinished`)
			require.NoError(t, err)
			assert.Len(t, closed, 1)
		},
		"somebody only looks": func(t *testing.T, path string, _ *child) {
			s, err := OpenReadOnly(t.Context(), path)
			require.NoError(t, err)
			defer s.Close()
			assert.Equal(t, 1, unfinished(t, s, "24-000001"))
		},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "padjig.db")
			holder, other := startTester(t, path), startTester(t, path)
			holder.order(t, "begin")
			require.Equal(t, "began", holder.said(t)[0])
			other.order(t, "begin")
			require.Equal(t, "in", other.said(t)[0])
			require.NoError(t, holder.Process.Kill())
			_ = holder.Wait() // killed
			asks(t, path, other)
			require.NoError(t, other.orders.Close())
			require.NoError(t, other.Wait(), other.stderr.String())
		})
	}
}
