package results

import (
	"database/sql"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results/runs"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
)

var seed = flag.Uint64("seed", 0, "seed of the random operations, 0 for a new one")

// TestAgainstModel does random things to a store and to a plain list, and
// compares what the two know.
func TestAgainstModel(t *testing.T) {
	for round := range 4 {
		s := *seed
		if s == 0 {
			s = rand.Uint64()
		}
		t.Run(fmt.Sprint(round), func(t *testing.T) {
			t.Logf("repeat with: go test ./results -run TestAgainstModel -seed %d", s)
			newModel(t, s).play(250)
		})
	}
}

type model struct {
	*rand.Rand
	t     *testing.T
	path  string
	with  store.Dependencies
	now   time.Time
	fault int // of the next commit: 0 none, 1 before it took effect, 2 after
	s     *Store
	runs  []sequence.Run // what the store must hold, in order
	ids   []store.ID
}

func newModel(t *testing.T, seed uint64) *model {
	m := &model{
		Rand: rand.New(rand.NewPCG(seed, seed)),
		t:    t,
		path: filepath.Join(t.TempDir(), "padjig.db"),
		now:  time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC),
		with: testSeams(),
	}
	m.with.Now = func() time.Time { return m.now }
	m.with.Commit = func(tx *sql.Tx) error {
		fault := m.fault
		m.fault = 0
		switch fault {
		case 1:
			return errors.Join(errDisk, tx.Rollback())
		case 2:
			return errors.Join(errDisk, tx.Commit())
		}
		return tx.Commit()
	}
	m.s = m.open()
	return m
}

func (m *model) open() *Store {
	s, err := OpenWith(m.t.Context(), m.path, m.with)
	require.NoError(m.t, err)
	return s
}

func (m *model) play(steps int) {
	for range steps {
		pick(m, m.save, m.save, m.save, m.save, m.refused, m.reopen, m.jump, m.unit, m.run, m.history, m.recent)()
	}
	m.everything()
	checkAndClose(m.t, m.s)
}

func pick[T any](m *model, from ...T) T { return from[m.IntN(len(from))] }

func (m *model) save() {
	m.now = m.now.Add(time.Duration(m.IntN(5)) * time.Second)
	rev, run := m.randomRun()
	m.fault = pick(m, 0, 0, 0, 1, 2)
	id, err := m.s.Runs.Save(m.t.Context(), rev, run)
	m.fault = 0
	require.NoError(m.t, err)
	m.runs, m.ids = append(m.runs, run), append(m.ids, id)
}

func (m *model) refused() {
	rev, run := m.randomRun()
	run.Outcome = sequence.Pass
	run.Findings = append(run.Findings, sequence.Finding{What: "short"})
	_, err := m.s.Runs.Save(m.t.Context(), rev, run)
	require.ErrorIs(m.t, err, store.ErrRefused)
}

func (m *model) reopen() {
	require.NoError(m.t, m.s.Close())
	m.s = m.open()
}

func (m *model) jump() {
	m.now = m.now.Add(pick(m, time.Hour, -time.Hour, 8766*time.Hour, -8766*time.Hour))
}

func (m *model) unit() {
	serial := m.serial()
	got, err := m.s.Runs.Unit(m.t.Context(), serial)
	require.NoError(m.t, err)
	at := 0
	for i, run := range m.runs {
		if run.Serial == serial {
			m.same(i, got[at])
			at++
		}
	}
	require.Len(m.t, got, at)
}

func (m *model) run() {
	if len(m.ids) == 0 {
		return
	}
	i := m.IntN(len(m.ids))
	got, err := m.s.Runs.Run(m.t.Context(), m.ids[i])
	require.NoError(m.t, err)
	m.same(i, got)
}

func (m *model) same(i int, got runs.Stored) {
	require.Equal(m.t, m.runs[i], got.Run)
	require.Equal(m.t, m.ids[i], got.ID)
	require.Equal(m.t, int64(i+1), got.Seq)
}

func (m *model) history() {
	serial := m.serial()
	got, err := m.s.Runs.History(m.t.Context(), serial)
	require.NoError(m.t, err)
	for _, simulated := range []bool{true, false} {
		want := runs.Attempts{Product: "GH-20", Simulated: simulated}
		for _, run := range m.runs {
			if run.Serial == serial && run.Simulated == simulated {
				want.Runs++
				want.Attempt = max(want.Attempt, run.Attempt)
				want.Passed = want.Passed || run.Outcome == sequence.Pass
				want.Last = run.Outcome
				if run.Outcome == sequence.Aborted && len(run.Findings) > 0 {
					want.Found++
				}
			}
		}
		of := got.Of("GH-20", simulated)
		of.Judged, of.PassedAs, of.Failed = 0, "", 0
		require.Equal(m.t, want, of)
	}
}

func (m *model) recent() {
	n := m.IntN(20)
	got, err := m.s.Runs.Recent(m.t.Context(), n)
	require.NoError(m.t, err)
	require.Len(m.t, got, min(n, len(m.ids)))
	for i, summary := range got {
		at := len(m.ids) - 1 - i
		require.Equal(m.t, m.ids[at], summary.ID)
		require.Equal(m.t, m.runs[at].Outcome, summary.Outcome)
		require.Len(m.t, m.runs[at].Findings, summary.Findings)
	}
}

func (m *model) everything() {
	for i, id := range m.ids {
		got, err := m.s.Runs.Run(m.t.Context(), id)
		require.NoError(m.t, err)
		m.same(i, got)
	}
	ascending := slices.IsSortedFunc(m.ids, func(a, b store.ID) int {
		if a.Before(b) {
			return -1
		}
		return 1
	})
	require.True(m.t, ascending)
	m.t.Logf("%d runs", len(m.ids))
}

func (m *model) serial() string { return fmt.Sprintf("24-%06d", m.IntN(8)) }

// randomRun is a run in stored units, of either of two revisions.
func (m *model) randomRun() (runs.Revision, sequence.Run) {
	rev := runstest.Climate()
	if m.IntN(3) == 0 {
		rev = runstest.Defined(`{"code":"GH-20","keys":20,"revised":true}`)
		rev.Label = "D"
	}
	run := sequence.Run{
		Serial: m.serial(), Product: rev.Code, Revision: rev.Label, Hash: rev.Hash,
		Jig:       sequence.JigName{Serial: pick(m, "J-0007", "J-0008"), Model: "PJ-64", Adapter: m.text()},
		Simulated: m.IntN(2) == 0,
		Actuation: pick(m, sequence.Mechanical, sequence.Electrical, sequence.Hand, ""),
		Operator:  m.text(),
		Attempt:   1 + m.IntN(5),
		Started:   m.now,
		Duration:  sequence.Seconds(m.micros()),
		Outcome:   pick(m, sequence.Fail, sequence.Reseat, sequence.Incomplete, sequence.Aborted),
		Reason:    m.text(),
		Why:       m.said(),
		Steps:     several(m, 30, m.step),
		Seats:     several(m, 12, m.seat),
		Keys:      several(m, 25, m.key),
		Pairs:     several(m, 4, m.pair),
		Findings:  append(several(m, 4, m.finding), sequence.Finding{What: "bounce", Unit: "ms"}),
	}
	if m.IntN(2) == 0 {
		makePass(&run)
	}
	return rev, run
}

func makePass(run *sequence.Run) {
	run.Outcome, run.Findings = sequence.Pass, nil
	run.Keys = append(run.Keys, sequence.KeyResult{Key: "last"})
	for i := range run.Keys {
		run.Keys[i].Verdict = sequence.KeyPass
	}
	for i := range run.Steps {
		run.Steps[i].Done = true
	}
	if run.Actuation == sequence.Electrical {
		*run = runstest.Electrical(*run)
	}
}

func (m *model) said() sequence.Said {
	return sequence.Said{Code: sequence.Code("code " + m.text()), Args: several(m, 3, m.text)}
}

func several[T any](m *model, most int, one func() T) []T {
	var list []T
	for range m.IntN(most + 1) {
		list = append(list, one())
	}
	return list
}

func maybe[T any](m *model, one func() T) *T {
	if m.IntN(3) == 0 {
		return nil
	}
	return new(one())
}

func (m *model) text() string {
	return pick(m, "", "Ines", "R3", "key 7", "'; DROP TABLE run; --", `quote " and \`,
		"Taste Ü 鍵", "\n\t<b>&\u2028")
}

func (m *model) micros() time.Duration { return time.Duration(m.IntN(9e6)) * time.Microsecond }

func (m *model) lines() [2]string { return [2]string{m.text(), m.text()} }

func (m *model) ohms() fixture.Resistance {
	r := fixture.Resistance{
		Value: quantity.Ohm(float64(m.IntN(2e9)-1e6) / 1e3),
		U:     quantity.Ohm(float64(m.IntN(1e6)) / 1e3),
	}
	switch m.IntN(6) {
	case 0:
		r.AtLeast = true
	case 1:
		return fixture.Resistance{Value: quantity.Open, U: quantity.Open, AtLeast: true}
	}
	return r
}

func (m *model) volt() fixture.Voltage {
	return fixture.Voltage{
		Value: quantity.Volt(float64(m.IntN(5e6)-1e6) / 1e6),
		U:     quantity.Volt(float64(m.IntN(1e4)) / 1e6),
	}
}

func (m *model) bounce() fixture.Bounce {
	return fixture.Bounce{Time: m.micros(), Transitions: m.IntN(40)}
}

func (m *model) float() sequence.Number { return sequence.Number(m.NormFloat64() * 1e3) }

func (m *model) step() sequence.StepDone {
	return sequence.StepDone{Name: m.text(), Done: m.IntN(4) > 0, Took: sequence.Seconds(m.micros())}
}

func (m *model) seat() sequence.Seat {
	return sequence.Seat{Pin: m.IntN(20), Line: m.text(), Loop: m.ohms(), Good: m.IntN(4) > 0}
}

func (m *model) key() sequence.KeyResult {
	return sequence.KeyResult{
		Key: m.text(), Lines: m.lines(),
		Verdict: pick(m, sequence.KeyPass, sequence.KeyFail, sequence.KeyUntested),
		Closed:  maybe(m, m.ohms), Forward: maybe(m, m.volt), Reverse: maybe(m, m.ohms), Make: maybe(m, m.bounce), Break: maybe(m, m.bounce),
	}
}

func (m *model) pair() sequence.Pair {
	return sequence.Pair{
		Lines: m.lines(), While: m.text(), Ohm: m.ohms(),
		Forward: maybe(m, m.ohms), Backward: maybe(m, m.ohms),
		Trend: pick(m, "", sequence.Steady, sequence.Rising, sequence.Falling),
	}
}

func (m *model) finding() sequence.Finding {
	return sequence.Finding{
		What: m.text(), At: m.said(), How: several(m, 2, m.said), Place: m.text(), Key: m.text(),
		Lines: several(m, 3, m.text), Pins: several(m, 3, func() int { return m.IntN(64) }),
		Value: maybe(m, m.float), U: maybe(m, m.float), Limit: maybe(m, m.float), Unit: pick(m, "ohm", "ms", "V", ""),
	}
}
