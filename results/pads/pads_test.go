package pads_test

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"math/rand/v2"
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
	"padjig/results/pads"
	"padjig/results/runs"
	"padjig/results/runs/runstest"
	"padjig/sequence"
	"padjig/sequence/wording"
)

// line has units of 20 keys tested, without a jig.
type line struct {
	testing.TB
	store  *results.Store
	path   string
	random *rand.Rand
}

func newLine(t testing.TB) *line {
	l := &line{TB: t, path: filepath.Join(t.TempDir(), "r.sqlite"), random: rand.New(rand.NewPCG(2, 7))}
	require.NoError(t, os.WriteFile(l.path+"-ballast", nil, 0o644))
	store, err := results.Open(t.Context(), l.path)
	require.NoError(t, err)
	l.store = store
	t.Cleanup(func() { _ = store.Close() })
	return l
}

func (l *line) pad() []float64 {
	pad := make([]float64, 20)
	for k := range pad {
		pad[k] = 60 * math.Exp(0.08*l.random.NormFloat64())
	}
	return pad
}

// run is a run over a pad, whose contacts scatter by so much.
func (l *line) run(serial string, pad []float64, scatter float64) sequence.Run {
	run := runstest.Passed(serial)
	run.Keys = nil
	for k, ohm := range pad {
		closed := fixture.Resistance{Value: quantity.Ohm(ohm * math.Exp(scatter*l.random.NormFloat64())), U: 0.02}
		run.Keys = append(run.Keys, sequence.KeyResult{
			Key: fmt.Sprint(k + 1), Lines: [2]string{fmt.Sprint("R", k/4+1), fmt.Sprint("C", k%4+1)},
			Verdict: sequence.KeyPass, Closed: &closed,
		})
	}
	return run
}

func (l *line) save(run sequence.Run) runs.Stored {
	l.Helper()
	id, err := l.store.Runs.Save(l.Context(), runstest.Climate(), run)
	require.NoError(l, err)
	stored, err := l.store.Runs.Run(l.Context(), id)
	require.NoError(l, err)
	return stored
}

// lot has so many units tested, and gives their pads and runs.
func (l *line) lot(n int) (made [][]float64, stored []runs.Stored) {
	l.Helper()
	for i := range n {
		made = append(made, l.pad())
		stored = append(stored, l.save(l.run(fmt.Sprintf("24-%06d", i+1), made[i], 0.005)))
	}
	return made, stored
}

func (l *line) before(run runs.Stored) pads.Comparison {
	l.Helper()
	c, err := l.store.Pads.Before(l.Context(), run)
	require.NoError(l, err)
	return c
}

func TestComparedWithTheUnitsBefore(t *testing.T) {
	l := newLine(t)
	made, stored := l.lot(30)
	assert.Equal(t, pads.TooFew, l.before(stored[3]).Conclusion, "as it was then, whatever came since")
	for _, run := range stored[6:] {
		assert.Equal(t, pads.OtherPads, l.before(run).Conclusion)
	}
	assert.Equal(t, pads.Window, l.before(stored[29]).Others)
	again := runs.Stored{Run: l.run("24-000900", made[28], 0.005)}
	c := l.before(again)
	assert.Equal(t, pads.SamePad, c.Conclusion)
	assert.Equal(t, stored[28].Serial, c.Nearest.Serial)
	assert.Equal(t, []string{stored[28].Serial, stored[28].ID.String(), "20"}, c.Said().Args)

	for name, other := range map[string]func(*sequence.Run){
		"of another definition": func(r *sequence.Run) { r.Hash = strings.Repeat("0", 64) },
		"a simulated one":       func(r *sequence.Run) { r.Simulated = true },
		"a stage of a case":     func(r *sequence.Run) { r.Purpose = sequence.ReturnTest },
		"of a gauge study":      func(r *sequence.Run) { r.Purpose = sequence.GaugeStudy },
		"joined electrically":   func(r *sequence.Run) { *r = runstest.Electrical(*r) },
		"nothing read":          func(r *sequence.Run) { r.Keys = nil },
		"beyond the window":     func(r *sequence.Run) { r.Keys = l.run("", made[5], 0.005).Keys },
		"the same unit":         func(r *sequence.Run) { r.Serial = stored[28].Serial },
	} {
		run := again
		other(&run.Run)
		assert.NotEqual(t, pads.SamePad, l.before(run).Conclusion, name)
	}
}

// What reads like another unit is no unit of its own: it is neither learned from nor named.
func TestNotComparedWithWhatWasNoPass(t *testing.T) {
	l := newLine(t)
	made, stored := l.lot(12)
	for i := range 15 {
		run := l.run(fmt.Sprintf("24-0008%02d", i), made[11], 0.005)
		c := l.before(runs.Stored{Run: run})
		require.Equal(t, pads.SamePad, c.Conclusion, "try %d", i)
		assert.Equal(t, stored[11].Serial, c.Nearest.Serial)
		run.Outcome, run.Why = sequence.Incomplete, c.Said()
		sequence.Plain().Spell(&run)
		kept := l.save(run)
		assert.Equal(t, c.Said(), kept.Why)
	}
}

func TestIsItThePadThatLeft(t *testing.T) {
	l := newLine(t)
	made, stored := l.lot(40)
	back := func(pad []float64, scatter float64) runs.Stored {
		run := l.run(stored[25].Serial, pad, scatter)
		run.Purpose = sequence.ReturnTest
		return runs.Stored{Run: run}
	}
	ask := func(left, now runs.Stored) pads.Identity {
		id, err := l.store.Pads.Returned(t.Context(), left, now)
		require.NoError(t, err)
		return id
	}
	codes := func(id pads.Identity) (codes []sequence.Code) {
		for _, fact := range id.Facts() {
			codes = append(codes, fact.Code)
		}
		return codes
	}
	itself := ask(stored[25], back(made[25], 0.02))
	assert.Equal(t, []sequence.Code{pads.AsLeft, pads.NoneNearer, pads.Limits}, codes(itself))
	assert.Equal(t, 39, itself.Units)

	worn := back(made[25], 0.03)
	worn.Keys[4].Verdict = sequence.KeyFail
	worn.Keys[9].Closed.Value *= 1.7
	for k := range worn.Keys {
		worn.Keys[k].Closed.Value *= 1.2
	}
	assert.Equal(t, pads.AsLeft, ask(stored[25], worn).Conclusion)

	for _, whose := range []int{27, 3, 39} { // the label of another, tested before it or behind
		swapped := ask(stored[25], back(made[whose], 0.005))
		assert.Equal(t, []sequence.Code{pads.NotAsLeft, pads.NearestOf, pads.Limits}, codes(swapped))
		assert.Equal(t, stored[whose].Serial, swapped.Nearest.Serial)
	}
	// One that was never tested here: wear may do as much as pads of this lot differ by.
	assert.Equal(t, []sequence.Code{pads.Undecided, pads.NoneNearer, pads.Limits}, codes(ask(stored[25], back(l.pad(), 0.005))))
	first := ask(stored[0], back(made[0], 0.005))
	assert.Equal(t, pads.AsLeft, first.Conclusion, "learned from those behind")
	alone := newLine(t)
	_, few := alone.lot(3)
	id, err := alone.store.Pads.Returned(t.Context(), few[0], back(made[0], 0.005))
	require.NoError(t, err)
	assert.Equal(t, []sequence.Code{pads.Few}, codes(id))
}

func TestEveryFactAboutPadsHasWords(t *testing.T) {
	for _, lang := range []string{"en", "de"} {
		words := wording.Facts().In(lang)
		for _, code := range pads.Codes() {
			said := words.Pads(sequence.Fact(code, "A", "B", "C", "D"))
			assert.NotContains(t, said, string(code)+" A B C D", lang)
			assert.NotContains(t, said, "{", lang)
		}
	}
}

// The units before are found by an index, however many others lie between.
func TestUnitsBeforeAreFoundByIndex(t *testing.T) {
	l := newLine(t)
	l.lot(2)
	require.NoError(t, l.store.Close())
	db, err := sql.Open("sqlite3", "file:"+l.path+"?mode=ro")
	require.NoError(t, err)
	defer db.Close()
	rows, err := db.QueryContext(t.Context(), `EXPLAIN QUERY PLAN SELECT seq, id, serial, ended FROM run
		WHERE revision = ? AND simulated = ? AND purpose = '' AND outcome IN ('pass', 'fail')
		  AND actuation <> 'electrical' AND seq < ? AND serial <> ? ORDER BY seq DESC LIMIT ?`, 1, 0, 100, "", 40)
	require.NoError(t, err)
	defer rows.Close()
	var plan []string
	for rows.Next() {
		var id, parent, unused int
		var detail string
		require.NoError(t, rows.Scan(&id, &parent, &unused, &detail))
		plan = append(plan, detail)
	}
	assert.Equal(t, []string{"SEARCH run USING INDEX run_judged (revision=? AND simulated=? AND seq<?)"}, plan)
}

// BenchmarkBefore compares looking at the units before with the durable storing of a run.
func BenchmarkBefore(b *testing.B) {
	l := newLine(b)
	made, _ := l.lot(300)
	var looks, saves time.Duration
	for i := 0; b.Loop(); i++ {
		run := l.run(fmt.Sprintf("25-%06d", i), made[i%300], 0.005)
		began := time.Now()
		_, err := l.store.Pads.Before(context.Background(), runs.Stored{Run: run})
		require.NoError(b, err)
		looks += time.Since(began)
		began = time.Now()
		_, err = l.store.Runs.Save(context.Background(), runstest.Climate(), run)
		require.NoError(b, err)
		saves += time.Since(began)
	}
	b.ReportMetric(float64(looks)/float64(saves), "of-a-save")
}
