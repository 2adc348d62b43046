package results

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/results/lines"
	"padjig/results/runs"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/prove"
	"padjig/sequence/wording"
)

// proved is a run with an account and insulation in it.
func proved(serial string, rest, again fixture.Resistance) sequence.Run {
	run := runstest.Passed(serial)
	run.Proofs = &prove.Account{Proved: []prove.Proof{prove.SelfTest, prove.Closes}, Missing: []prove.Gap{},
		NotRequired: []prove.Gap{{Proof: prove.Seating, Of: []string{"2"}}}}
	run.Insulation = []sequence.Insulation{
		{Step: "rest", Feed: []string{"R1"}, Ground: []string{"C1", "C2"}, Ohm: rest},
		{Step: "rest", Feed: []string{"C2"}, Ground: []string{"R1", "C1"}, Ohm: fixture.Resistance{Value: 5e9, AtLeast: true}},
		{Step: "rest again", Feed: []string{"R1"}, Ground: []string{"C1", "C2"}, Ohm: again},
	}
	return run
}

func TestProofsAndInsulationAreKept(t *testing.T) {
	s := openTemp(t)
	run := proved("24-000001", fixture.Resistance{Value: 123_456_789, U: 1e6}, fixture.Resistance{Value: 2e9, U: 3e7, AtLeast: true})
	id, err := s.Runs.Save(t.Context(), runstest.Climate(), run)
	require.NoError(t, err)
	stored, err := s.Runs.Run(t.Context(), id)
	require.NoError(t, err)
	assert.Equal(t, run.Proofs, stored.Proofs)
	assert.Equal(t, run.Insulation, stored.Insulation)

	// A run of before has neither, and is never read as one that proved all.
	id, err = s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000002"))
	require.NoError(t, err)
	stored, err = s.Runs.Run(t.Context(), id)
	require.NoError(t, err)
	assert.Nil(t, stored.Proofs)
	assert.Empty(t, stored.Insulation)
	assert.Equal(t, "what was proved is not recorded", wording.Words{}.Proved(stored.Run))
	assert.Empty(t, wording.Words{}.Missing(stored.Run))

	text, err := store.Collect(t.Context(), raw(s), store.ScanText, `SELECT proof || ': ' || state || coalesce(' ' || of, '') FROM proofs ORDER BY 1`)
	require.NoError(t, err)
	assert.Equal(t, []string{"closes: proved", `seating: not required ["2"]`, "self-test: proved"}, text)
	faults, err := s.Check(t.Context())
	require.NoError(t, err)
	assert.Empty(t, faults)

	// Both are part of what the hash stands for.
	for _, change := range []string{
		`UPDATE run_insulation SET mohm = mohm + 1 WHERE run = 1 AND place = 0`,
		`UPDATE run SET proofs = json_remove(proofs, '$.not_required[0]') WHERE seq = 1`,
		`UPDATE line_split SET fed = '["R2"]' WHERE line_split = 1`,
	} {
		assert.ErrorContains(t, second(raw(s).ExecContext(t.Context(), change)), "append-only", change)
	}
}

// A pass that lacks what it has to prove is no record, whoever writes it.
func TestAPassWithAProofMissingIsRefused(t *testing.T) {
	s := openTemp(t)
	run := proved("24-000001", fixture.Resistance{Value: 1e9}, fixture.Resistance{Value: 1e9})
	run.Proofs.Missing = []prove.Gap{{Proof: prove.Rectangles}}
	_, err := s.Runs.Save(t.Context(), runstest.Climate(), run)
	assert.ErrorIs(t, err, store.ErrRefused)
	assert.ErrorContains(t, err, "it passed without what a pass has to prove: rectangles")

	run.Outcome, run.Why = sequence.Incomplete, sequence.Fact(sequence.NotProved, "rectangles")
	_, err = s.Runs.Save(t.Context(), runstest.Climate(), run)
	require.NoError(t, err)
	run.Proofs.Missing = nil
	run.Outcome, run.Why, run.Serial = sequence.Pass, sequence.Said{}, "24-000002"
	_, err = s.Runs.Save(t.Context(), runstest.Climate(), run)
	require.NoError(t, err)
	_, err = raw(s).ExecContext(t.Context(), `
		INSERT INTO run (seq, id, serial, revision, jig, station, simulated, actuation, operator, attempt, started_us, duration_us,
			outcome, reason, saved_us, steps, seats, keys, pairs, findings, hash, proofs)
		SELECT 3, randomblob(16), serial, revision, jig, station, simulated, actuation, operator, attempt, started_us, duration_us,
			'pass', reason, saved_us, 0, 0, 0, 0, 0, hash, '{"proved":[],"missing":[{"proof":"closes"}],"not_required":[]}'
		FROM run WHERE seq = 1`)
	assert.ErrorContains(t, err, "lacks what a pass has to prove")
}

// The readings of which no sums are kept, against what was stored.
func TestReadingsOfOtherMeasures(t *testing.T) {
	s := openTemp(t)
	rev := runstest.Defined(`{"keys":[{"label":"1","lines":["R1","C1"],"limits":{"rest_ohm":1e7}},` +
		`{"label":"2","lines":["R1","C2"],"limits":{"rest_ohm":1e7}}]}`)
	save := func(serial string, run sequence.Run) {
		run.Serial, run.Simulated = serial, true
		_, err := s.Runs.Save(t.Context(), rev, runstest.Of(rev, run))
		require.NoError(t, err)
	}
	save("24-000001", proved("", fixture.Resistance{Value: 1e8, U: 1e6}, fixture.Resistance{Value: 3e8, U: 1e6}))
	save("24-000002", proved("", fixture.Resistance{Value: 1e9, U: 1e6}, fixture.Resistance{Value: 2e9, AtLeast: true}))
	save("24-000003", runstest.Passed("")) // of before
	read := func(m lines.Measure, of ...string) lines.Series {
		series, err := s.Lines.Readings(t.Context(), lines.Filter{Simulated: true}, m, of, 10)
		require.NoError(t, err)
		return series
	}
	said := func(series lines.Series) (out []string) {
		for _, p := range series.Points {
			out = append(out, fmt.Sprintf("%s %s %.4g ± %.2g", p.Serial, p.Key, p.Value, p.U))
		}
		return out
	}
	// Key 1 lies between R1 and C1: one group each time. Key 2 also in a group of its own
	// line, which read more.
	insulation := read(lines.Insulation)
	assert.Equal(t, []string{
		"24-000001 1 8 ± 0.0043", "24-000001 2 8.477 ± 0.0014", "24-000002 1 9 ± 0.00043", "24-000002 2 9.301 ± 0",
	}, said(insulation))
	assert.Equal(t, 1, insulation.Bounds, "over range")
	assert.Equal(t, 2, insulation.Beyond, "a run of before has none")
	assert.Equal(t, [2]float64{math.Log10(1e7), 0}, insulation.Limits["1"])
	assert.Equal(t, []string{"24-000001 1 8 ± 0.0043", "24-000002 1 9 ± 0.00043"}, said(read(lines.Insulation, "1")))

	loop := read(lines.Loop)
	assert.Equal(t, []string{"1"}, loop.Names, "pin 2 has no line")
	assert.Len(t, loop.Points, 3)
	assert.InDelta(t, 0.412, loop.Points[0].Value, 1e-9)
	step := read(lines.StepTime, "key 1")
	assert.Len(t, step.Points, 3)
	assert.InDelta(t, 0.312, step.Points[2].Value, 1e-9)
	assert.InDelta(t, 8.421337, read(lines.Machine).Points[0].Value, 1e-9)
	_, err := s.Lines.Readings(t.Context(), lines.Filter{Simulated: true}, lines.StepTime, []string{"kyes"}, 10)
	assert.ErrorContains(t, err, "kyes: no such one in the selection; step is of seating, key 1")
}

// Insulation is read from the runs, and a page waits for that: how long it takes, of the last 2,000 units and of 100,000.
func BenchmarkReadingsOfInsulation(b *testing.B) {
	s, rev := openTemp(b), twentyKeys()
	entries := make(chan Entry)
	const units = 100_000
	go func() {
		defer close(entries)
		rng := rand.New(rand.NewPCG(1, 1))
		for i := range units {
			run := runstest.Of(rev, twenty(rng, fmt.Sprintf("24-%06d", i)))
			run.Simulated, run.Started = true, run.Started.Add(time.Duration(i)*10*time.Second)
			entries <- Entry{At: run.Started.Add(time.Second), Run: &run, Revision: &rev}
		}
	}()
	require.NoError(b, s.ImportSimulated(b.Context(), 1, entries, func(int) {}))
	for _, m := range []lines.Measure{lines.Contact, lines.Insulation, lines.Loop} {
		for _, n := range []int{2000, units} {
			b.Run(fmt.Sprintf("%s of %d", m, n), func(b *testing.B) {
				for b.Loop() {
					_, err := s.Lines.Readings(b.Context(), lines.Filter{Simulated: true}, m, nil, n)
					require.NoError(b, err)
				}
			})
		}
	}
}

// twentyKeys defines the keypad of [twenty], each key between two of its nine lines.
func twentyKeys() runs.Revision {
	text := `{"keys":[`
	for key := range 20 {
		if key > 0 {
			text += ","
		}
		text += fmt.Sprintf(`{"label":"%d","lines":["R%d","C%d"],"limits":{"rest_ohm":1e7}}`, key+1, key/4+1, key%4+1)
	}
	return runstest.Defined(text + `]}`)
}
