package results

import (
	"context"
	"crypto/sha256"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
)

// openTemp opens a fresh store that is checked and closed when the test ends.
func openTemp(t testing.TB) *Store {
	t.Helper()
	return openChecked(t, filepath.Join(t.TempDir(), "padjig.db"), testSeams())
}

// testSeams are the world, with a ballast that costs a test nothing.
func testSeams() seams {
	with := world()
	with.ballast = 1 << 10
	return with
}

func openChecked(t testing.TB, path string, with seams) *Store {
	t.Helper()
	s, err := openWith(t.Context(), path, with)
	require.NoError(t, err)
	t.Cleanup(func() { checkAndClose(t, s) })
	return s
}

func checkAndClose(t testing.TB, s *Store) {
	t.Helper()
	faults, err := s.Check(context.Background()) // the test's own context has ended
	require.NoError(t, err)
	assert.Empty(t, faults)
	require.NoError(t, s.Close())
}

// climate is the keypad of a greenhouse climate controller.
func climate() Revision { return defined(`{"code":"GH-20","keys":20}`) }

// defined is that keypad with a definition of its own, and its hash.
func defined(definition string) Revision {
	return Revision{
		Code:       "GH-20",
		Title:      "Greenhouse climate controller, 5x4",
		Label:      "C",
		Hash:       fmt.Sprintf("%x", sha256.Sum256([]byte(definition))),
		Definition: []byte(definition),
	}
}

// of makes it a run of that revision.
func of(rev Revision, run sequence.Run) sequence.Run {
	run.Hash = rev.Hash
	return run
}

func passed(serial string) sequence.Run {
	return sequence.Run{
		Serial: serial, Product: "GH-20", Revision: "C", Hash: climate().Hash,
		Jig:       sequence.JigName{Serial: "J-0007", Model: "PJ-64", Firmware: "1.4.2", Adapter: "A-20"},
		Actuation: sequence.Mechanical,
		Operator:  "Ines",
		Attempt:   1,
		Started:   time.Date(2026, 3, 2, 7, 15, 4, 123456000, time.UTC),
		Duration:  8_421_337 * time.Microsecond,
		Outcome:   sequence.Pass,
		Steps: []sequence.StepDone{
			{Name: "seating", Done: true, Took: 61 * time.Millisecond},
			{Name: "key 1", Done: true, Took: 312 * time.Millisecond},
		},
		Seats: []sequence.Seat{
			{Pin: 1, Line: "R1", Loop: fixture.Resistance{Value: 0.412, U: 0.03}, Good: true},
			{Pin: 2, Loop: fixture.Resistance{Value: 2e6, AtLeast: true}},
		},
		Keys: []sequence.KeyResult{
			{
				Key: "1", Lines: [2]string{"R1", "C1"}, Verdict: sequence.KeyPass,
				Closed: &fixture.Resistance{Value: 118.204, U: 0.35},
				Make:   &fixture.Bounce{Time: 1250 * time.Microsecond, Transitions: 3},
				Break:  &fixture.Bounce{},
			},
			{
				Key: "2", Lines: [2]string{"R1", "C2"}, Verdict: sequence.KeyPass,
				Closed:  &fixture.Resistance{Value: 97.5, U: 0.3},
				Forward: &fixture.Voltage{Value: 0.612345, U: 0.001},
			},
		},
	}
}

var keyOne = sequence.Said{Code: sequence.AtKey, Args: []string{"1", "R1", "C1"}}

func failed(serial string) sequence.Run {
	run := passed(serial)
	run.Outcome = sequence.Fail
	run.Keys[0].Verdict = sequence.KeyFail
	run.Keys[0].Closed = &fixture.Resistance{Value: quantity.Open, U: quantity.Open, AtLeast: true}
	run.Keys[0].Make, run.Keys[0].Break = nil, nil
	run.Keys[1] = sequence.KeyResult{Key: "2", Lines: [2]string{"R1", "C2"}, Verdict: sequence.KeyUntested}
	run.Pairs = []sequence.Pair{
		{Lines: [2]string{"R1", "R2"}, Ohm: fixture.Resistance{Value: 3.217, U: 0.02}},
		{Lines: [2]string{"C1", "C2"}, While: "2", Ohm: fixture.Resistance{Value: 9.5e9, U: 1e8, AtLeast: true}},
	}
	run.Findings = []sequence.Finding{
		{
			What: "key open", At: keyOne, Place: "key 1 (R1-C1)", Key: "1", Lines: []string{"R1", "C1"}, Pins: []int{1, 6},
			Value: new(math.Inf(1)), Limit: new(200.0), Unit: "ohm",
		},
		{
			What: "short", Place: "lines R1 and R2", Lines: []string{"R1", "R2"}, Pins: []int{1, 2},
			Value: new(3.2171), U: new(0.02), Limit: new(1e7), Unit: "ohm",
		},
		{What: "odd", Place: "nowhere"},
	}
	return run
}

func TestRoundTrip(t *testing.T) {
	s := openTemp(t)
	aborted := passed("24-000003")
	aborted.Outcome, aborted.Reason = sequence.Aborted, "interlock opened"
	aborted.Keys, aborted.Seats, aborted.Steps = nil, nil, nil
	for _, run := range []sequence.Run{passed("24-000001"), failed("24-000002"), aborted} {
		id, err := s.Save(t.Context(), climate(), run)
		require.NoError(t, err)
		units, err := s.Unit(t.Context(), run.Serial)
		require.NoError(t, err)
		require.Len(t, units, 1)
		assert.Equal(t, run, units[0].Run)
		assert.Equal(t, id, units[0].ID)

		one, err := s.Run(t.Context(), id)
		require.NoError(t, err)
		assert.Equal(t, units[0], one)
	}
}

func TestUnitNeverTested(t *testing.T) {
	runs, err := openTemp(t).Unit(t.Context(), "24-999999")
	require.NoError(t, err)
	assert.Empty(t, runs)
}

func TestRunNotFound(t *testing.T) {
	_, err := openTemp(t).Run(t.Context(), nextID(time.Now(), ID{}))
	assert.ErrorIs(t, err, ErrNotFound)
}

func TestCreatesTheStoreAndItsLock(t *testing.T) {
	dir := t.TempDir()
	s, err := Open(t.Context(), filepath.Join(dir, "a b?c#d%41.db"))
	require.NoError(t, err)
	require.NoError(t, s.Close())
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	var names []string
	for _, entry := range entries {
		names = append(names, entry.Name())
	}
	assert.Equal(t, []string{"a b?c#d%41.db", "a b?c#d%41.db-lock"}, names)
}
