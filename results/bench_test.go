package results

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results/answers/ratio"
	"padjig/results/hourly"
	"padjig/results/runs"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/prove"
)

// twenty is a passed run of the 5x4 pad as the sequence leaves it: 9 pins, 20
// keys, 24 steps.
func twenty(rng *rand.Rand, serial string) sequence.Run {
	run := runstest.Passed(serial)
	run.Keys, run.Seats, run.Steps = nil, nil, nil
	for pin := range 9 {
		loop := fixture.Resistance{Value: near(rng, 0.4, 0.1), U: 0.03}
		run.Seats = append(run.Seats, sequence.Seat{Pin: pin + 1, Line: fmt.Sprint("L", pin), Loop: loop, Good: true})
	}
	for key := range 20 {
		run.Keys = append(run.Keys, sequence.KeyResult{
			Key: fmt.Sprint(key + 1), Lines: [2]string{fmt.Sprint("R", key/4+1), fmt.Sprint("C", key%4+1)},
			Verdict: sequence.KeyPass,
			Closed:  &fixture.Resistance{Value: near(rng, 120, 15), U: near(rng, 0.35, 0.02)},
			Make:    &fixture.Bounce{Time: time.Duration(rng.IntN(4000)) * time.Microsecond, Transitions: rng.IntN(9)},
			Break:   &fixture.Bounce{Time: time.Duration(rng.IntN(2000)) * time.Microsecond, Transitions: rng.IntN(5)},
		})
	}
	for step := range 24 {
		took := time.Duration(200_000+rng.IntN(90_000)) * time.Microsecond
		run.Steps = append(run.Steps, sequence.StepDone{Name: fmt.Sprint("step ", step), Done: true, Took: sequence.Seconds(took)})
	}
	lines := strings.Fields("R1 R2 R3 R4 R5 C1 C2 C3 C4")
	for _, step := range []string{"rest", "rest again"} {
		for bit := range 4 {
			one := sequence.Insulation{Step: step, Ohm: fixture.Resistance{Value: near(rng, 2e9, 1e7), AtLeast: true}}
			for i, line := range lines {
				if i>>bit&1 == 0 {
					one.Ground = append(one.Ground, line)
				} else {
					one.Feed = append(one.Feed, line)
				}
			}
			run.Insulation = append(run.Insulation, one)
		}
	}
	run.Proofs = &prove.Account{NotRequired: []prove.Gap{{Proof: prove.Seating}}, Proved: []prove.Proof{prove.SelfTest,
		prove.Insulation, prove.Closes, prove.Contact, prove.Alone, prove.BounceClosing, prove.BounceOpening, prove.Opens}}
	return run
}

func near(rng *rand.Rand, mean, spread float64) quantity.Ohm {
	return quantity.Ohm(mean + spread*rng.NormFloat64())
}

// BenchmarkSave compares the durable storing of one unit, its start before and
// its run after, with the least that SQLite can do as durably, a row of a table that nothing guards, and with the least a
// disk can do: append 4 KiB to a file and sync it. All are done in turn, so that they see the same disk.
func BenchmarkSave(b *testing.B) {
	s := openTemp(b)
	bare, err := os.Create(filepath.Join(b.TempDir(), "bare"))
	require.NoError(b, err)
	defer bare.Close()
	plain := besides(b, filepath.Join(b.TempDir(), "row.db"), "_journal_mode=WAL&_synchronous=FULL")
	defer plain.Close()
	_, err = plain.ExecContext(b.Context(), `CREATE TABLE row (n INTEGER PRIMARY KEY, text TEXT NOT NULL) STRICT`)
	require.NoError(b, err)
	rng := rand.New(rand.NewPCG(1, 1))
	block := make([]byte, 4096)
	var all []time.Duration
	var starts, overRow, overAppend ratio.Pairs
	for n := 0; b.Loop(); n++ {
		run := twenty(rng, fmt.Sprintf("24-%06d", n))
		var row, appended time.Duration
		least := func() {
			row = timed(b, func() error {
				_, err := plain.ExecContext(b.Context(), `INSERT INTO row (text) VALUES (?)`, run.Serial)
				return err
			})
			appended = timed(b, func() error {
				if _, err := bare.Write(block); err != nil {
					return err
				}
				return bare.Sync()
			})
		}
		if n%2 == 0 {
			least()
		}
		var begun *runs.Begun
		start := timed(b, func() (err error) {
			begun, err = s.Runs.Begin(b.Context(), runstest.Climate(), startOf(run), agreed)
			return err
		})
		save := timed(b, func() error {
			_, err := begun.Save(b.Context(), run)
			return err
		})
		if n%2 != 0 {
			least()
		}
		all = append(all, save)
		starts.Add(start, appended)
		overRow.Add(save, row)
		overAppend.Add(save, appended)
	}
	starts.Report(b, "start", "append")
	overRow.Report(b, "save", "row")
	overAppend.Report(b, "save", "append")
	b.ReportMetric(float64(quantile(all, 0.99))/float64(time.Microsecond), "save-p99-us")
}

func timed(t testing.TB, do func() error) time.Duration {
	start := time.Now()
	err := do()
	took := time.Since(start)
	require.NoError(t, err)
	return took
}

// BenchmarkInsulation compares a run with its insulation and proofs and the same without,
// stored in turn, in time and in size.
func BenchmarkInsulation(b *testing.B) {
	with, without := openTemp(b), openTemp(b)
	rng := rand.New(rand.NewPCG(1, 1))
	var kept, bare []time.Duration
	n := 0
	for b.Loop() {
		n++
		run := twenty(rng, fmt.Sprintf("24-%06d", n))
		kept = append(kept, timed(b, func() error { return second(with.Runs.Save(b.Context(), runstest.Climate(), run)) }))
		run.Insulation, run.Proofs = nil, nil
		bare = append(bare, timed(b, func() error { return second(without.Runs.Save(b.Context(), runstest.Climate(), run)) }))
	}
	size := func(s *Store) (bytes float64) {
		require.NoError(b, raw(s).QueryRowContext(b.Context(),
			`SELECT page_count * page_size FROM pragma_page_count(), pragma_page_size()`).Scan(&bytes))
		return bytes / float64(n)
	}
	b.ReportMetric(0, "ns/op") // would count both
	b.ReportMetric(float64(quantile(kept, 0.5))/float64(quantile(bare, 0.5)), "commit-ratio-p50")
	b.ReportMetric(size(with), "bytes/run")
	b.ReportMetric(size(with)/size(without), "size-ratio")
}

func micros(d time.Duration) float64 { return float64(d) / float64(time.Microsecond) }

func quantile(times []time.Duration, q float64) time.Duration {
	slices.Sort(times)
	return times[int(q*float64(len(times)-1))]
}

// BenchmarkCounting compares the commit of a run that is counted in its cell with
// one of the record alone, done in turn so that both see the same disk.
func BenchmarkCounting(b *testing.B) {
	counting, plain := openTemp(b), openBare(b)
	rng := rand.New(rand.NewPCG(1, 1))
	var pairs ratio.Pairs
	for n := 0; b.Loop(); n++ {
		run := twenty(rng, fmt.Sprintf("24-%06d", n))
		save := func(s *Store) func() {
			return func() { require.NoError(b, second(s.Runs.Save(b.Context(), runstest.Climate(), run))) }
		}
		pairs.Time(save(counting), save(plain))
	}
	pairs.Report(b, "counted", "alone")
}

// BenchmarkSpans compares the commit of a run beside sums of half a year's days with one of a store in which nothing watches over
// them, done in turn, and says what the first run of a day takes beside the others: the day before is summed up with it.
func BenchmarkSpans(b *testing.B) {
	open := func() *Store {
		s, err := OpenWith(b.Context(), filepath.Join(b.TempDir(), "spans.db"), testSeams())
		require.NoError(b, err)
		b.Cleanup(func() { require.NoError(b, s.Close()) })
		return s
	}
	watched, plain := open(), open()
	for _, name := range []string{"cell_in_span", "cell_out_of_span", "cell_into_span", "cell_left_span"} {
		_, err := raw(plain).ExecContext(b.Context(), "DROP TRIGGER "+name)
		require.NoError(b, err)
	}
	rng := rand.New(rand.NewPCG(1, 1))
	n := 0
	save := func(s *Store, at time.Time) func() error {
		return func() error {
			run := twenty(rng, fmt.Sprintf("24-%06d", n))
			run.Started = at
			return second(s.Runs.Save(b.Context(), runstest.Climate(), run))
		}
	}
	at := time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC)
	for range 180 {
		for hour := range 12 {
			n++
			require.NoError(b, save(watched, at.Add(time.Duration(hour)*time.Hour))())
			require.NoError(b, save(plain, at.Add(time.Duration(hour)*time.Hour))())
		}
		at = at.Add(24 * time.Hour)
	}
	var with, without, first []time.Duration
	for b.Loop() {
		if n++; n%20 == 0 {
			at = at.Add(24 * time.Hour)
			first = append(first, timed(b, save(watched, at)))
			require.NoError(b, save(plain, at)())
			continue
		}
		with = append(with, timed(b, save(watched, at.Add(time.Duration(n%20)*30*time.Minute))))
		without = append(without, timed(b, save(plain, at.Add(time.Duration(n%20)*30*time.Minute))))
	}
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(micros(quantile(with, 0.5)), "commit-p50-us")
	b.ReportMetric(float64(quantile(with, 0.5))/float64(quantile(without, 0.5)), "watched-ratio-p50")
	b.ReportMetric(float64(quantile(first, 0.5))/float64(quantile(with, 0.5)), "first-of-day-ratio-p50")
}

// BenchmarkCountingLater compares counting a run in the commit that stores it with counting it in one of its own afterwards, at once
// or for sixteen runs together, as before a question. The durable save alone is what an operator waits for; both together is what the
// computer does. All are done in turn, so that they see the same disk.
func BenchmarkCountingLater(b *testing.B) {
	const together = 16
	inside, at, later := openTemp(b), openBare(b), openBare(b)
	rng := rand.New(rand.NewPCG(1, 1))
	var counted, saved, caughtUp, caughtUpTogether []time.Duration
	n := 0
	for b.Loop() {
		n++
		run := twenty(rng, fmt.Sprintf("24-%06d", n))
		save := func(s *Store) func() error {
			return func() error { return second(s.Runs.Save(b.Context(), runstest.Climate(), run)) }
		}
		counted = append(counted, timed(b, save(inside)))
		saved = append(saved, timed(b, save(at)))
		caughtUp = append(caughtUp, timed(b, func() error { return hourly.CatchUp(b.Context(), at.db) }))
		require.NoError(b, save(later)())
		if n%together == 0 {
			caughtUpTogether = append(caughtUpTogether, timed(b, func() error { return hourly.CatchUp(b.Context(), later.db) }))
		}
	}
	b.ReportMetric(0, "ns/op") // would count all
	in, out := micros(quantile(counted, 0.5)), micros(quantile(saved, 0.5))
	one := micros(quantile(caughtUp, 0.5))
	b.ReportMetric(in, "counted-inside-p50-us")
	b.ReportMetric(out/in, "save-alone-ratio")
	b.ReportMetric((out+one)/in, "save-and-count-ratio")
	if len(caughtUpTogether) > 0 {
		b.ReportMetric((out+micros(quantile(caughtUpTogether, 0.5))/together)/in, "counted-together-ratio")
		b.ReportMetric(micros(quantile(caughtUpTogether, 0.5)), "question-waits-us")
	}
}

// openBare is a store whose runs are not counted, so that its check would fail.
func openBare(b *testing.B) *Store {
	s, err := OpenWith(b.Context(), filepath.Join(b.TempDir(), "bare.db"), testSeams())
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, s.Close()) })
	s.Runs = runs.On(s.db, runs.Links{Counter: uncounted{}})
	return s
}

type uncounted struct{}

func (uncounted) Count(store.Writer, runs.Counted) error { return nil }
func (uncounted) Forget()                                {}
