package results

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/accounts"
	"padjig/results/fails"
	"padjig/results/handoff"
	"padjig/results/returns"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
)

// told is what the outbox has after an event.
func told(t testing.TB, s *Store, after int64) (all []handoff.Told) {
	t.Helper()
	list, err := s.HandOff.Next(t.Context(), after, 1000)
	require.NoError(t, err)
	for _, e := range list {
		one, err := s.HandOff.Tell(t.Context(), e)
		require.NoError(t, err)
		all = append(all, one)
	}
	return all
}

// Whatever is stored that others want to know of has its event in the same commit, with what
// an event says: in the order of storing, with the unit, and marked where it is practice.
func TestOutboxHasWhatIsStored(t *testing.T) {
	s := openTemp(t)
	simulated, engineering := runstest.Passed("24-000003"), runstest.Passed("24-000004")
	simulated.Simulated, engineering.Purpose, engineering.Outcome = true, sequence.Engineering, sequence.NothingFound
	fail := runstest.Failed("24-000001")
	var failed store.ID
	for _, run := range []sequence.Run{fail, runstest.Passed("24-000002"), simulated, engineering} {
		id, err := s.Runs.Save(t.Context(), runstest.Climate(), run)
		require.NoError(t, err)
		if run.Serial == fail.Serial {
			failed = id
		}
	}
	require.NoError(t, s.Accounts.SaveOverride(t.Context(), accounts.Override{What: "attempts used up", Serial: "24-000003", By: "Ines", Reason: "seen"}))
	require.NoError(t, s.Accounts.SaveOverride(t.Context(), accounts.Override{What: "calibration overdue", Jig: "J-0007", By: "Ines", Reason: "of no unit"}))
	_, err := s.Fails.Place(t.Context(), failed, fails.Place{}, "Jon")
	require.NoError(t, err)
	require.NoError(t, s.Returns.SaveRework(t.Context(), returns.Rework{Serial: "24-000001", Deed: "tail cleaned", Place: returns.Place{Kind: returns.AtConnector},
		By: "Ines", Done: time.Now()}, pad()))

	all := told(t, s, 0)
	require.Len(t, all, 7)
	ids := map[store.ID]bool{}
	for i, e := range all {
		assert.EqualValues(t, i+1, e.Number)
		assert.False(t, e.At.IsZero())
		assert.Equal(t, "GH-20", e.Product)
		ids[e.ID] = true
	}
	assert.Len(t, ids, 7, "each has an id of its own")
	assert.Equal(t, failed, all[0].Run.ID)
	for i, want := range []struct {
		kind     handoff.Kind
		unit     string
		practice bool
	}{
		{handoff.Run, "24-000001", false}, {handoff.Run, "24-000002", false}, {handoff.Run, "24-000003", true}, {handoff.Run, "24-000004", true},
		{handoff.Override, "24-000003", true}, {handoff.Placement, "24-000001", false}, {handoff.Rework, "24-000001", false},
	} {
		assert.Equal(t, want.kind, all[i].Kind, i)
		assert.Equal(t, want.unit, all[i].Unit, i)
		assert.Equal(t, want.practice, all[i].Practice(), i)
	}
	assert.Equal(t, "attempts used up", all[4].Override.What)
	assert.Equal(t, "Jon", all[5].Placement.By)
	assert.Equal(t, "tail cleaned", all[6].Rework.Deed)
	assert.Equal(t, all, told(t, s, 0), "the same whenever it is asked")
	assert.Empty(t, complaints(t, s))
}

func complaints(t testing.TB, s *Store) []string {
	t.Helper()
	wrong, err := s.Check(t.Context())
	require.NoError(t, err)
	return wrong
}

// A commit that fails leaves neither run nor event; one that came through leaves both, and
// an event once, however the program learned of it.
func TestOutboxIsInTheCommit(t *testing.T) {
	for _, took := range []bool{false, true} {
		t.Run(fmt.Sprint("took ", took), func(t *testing.T) {
			with, armed := failing(took, func(n int) bool { return n == 1 })
			s, err := OpenWith(t.Context(), t.TempDir()+"/padjig.db", with)
			require.NoError(t, err)
			defer checkAndClose(t, s)
			*armed = true
			_, err = s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000001"))
			require.NoError(t, err)
			*armed = false
			assert.Len(t, told(t, s, 0), 1)
		})
	}
}

// A row of the outbox that goes missing, or says what is not there, is found.
func TestOutboxIsChecked(t *testing.T) {
	s, err := OpenWith(t.Context(), t.TempDir()+"/padjig.db", testSeams())
	require.NoError(t, err)
	defer s.Close()
	for i := range 3 {
		_, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed(fmt.Sprint("24-00000", i)))
		require.NoError(t, err)
	}
	for _, by := range []string{
		`DROP TRIGGER outbox_no_delete`, `DROP TRIGGER outbox_no_update`, `DELETE FROM outbox WHERE seq = 2`, `UPDATE outbox SET ref = 9 WHERE seq = 3`} {
		_, err := raw(s).Exec(by)
		require.NoError(t, err)
	}
	wrong := complaints(t, s)
	for _, want := range []string{"run 2 was never put into the outbox", "run 3 was never put into the outbox", "outbox has run 9, which is not in the records"} {
		assert.Contains(t, wrong, want)
	}
}

// What a receiver has is one number, which only moves on by what was delivered and back by a
// person's word; whoever delivers by an older one is told.
func TestReceiverStands(t *testing.T) {
	s := openTemp(t)
	ctx := t.Context()
	save := func(serial string) store.ID {
		id, err := s.Runs.Save(ctx, runstest.Climate(), runstest.Passed(serial))
		require.NoError(t, err)
		return id
	}
	save("24-000001")
	st, err := s.HandOff.Begin(ctx, "mes")
	require.NoError(t, err)
	assert.EqualValues(t, 1, st.Has, "from now on")
	assert.Zero(t, st.Behind)
	second, third := save("24-000002"), save("24-000003")
	now := standing(t, s)
	assert.EqualValues(t, 2, now.Behind)
	assert.False(t, now.Oldest.IsZero())
	require.NoError(t, s.HandOff.Delivered(ctx, st, 2))
	assert.EqualValues(t, 1, st.Behind)

	assert.ErrorIs(t, s.HandOff.LeaveOut(ctx, "mes", 3, "Ines", "no"), handoff.ErrNotRefused, "nothing was refused")
	require.NoError(t, s.HandOff.Failing(ctx, "mes", 3, "connection refused", time.Now().Add(time.Minute)))
	assert.Equal(t, "connection refused", standing(t, s).Trouble.Why)
	assert.ErrorIs(t, s.HandOff.LeaveOut(ctx, "mes", 3, "Ines", "no"), handoff.ErrNotRefused, "it may take it yet")
	require.NoError(t, s.HandOff.Refused(ctx, "mes", 3, "HTTP 422"))
	require.True(t, standing(t, s).Trouble.Refused)
	assert.ErrorIs(t, s.HandOff.LeaveOut(ctx, "mes", 2, "Ines", "no"), handoff.ErrNotRefused, "another event")
	assert.ErrorIs(t, s.HandOff.LeaveOut(ctx, "erp", 3, "Ines", "no"), handoff.ErrUnknown)
	assert.Error(t, s.HandOff.LeaveOut(ctx, "mes", 3, "", "nobody"))
	assert.Error(t, s.HandOff.LeaveOut(ctx, "mes", 3, "Ines", " "), "no reason")
	require.NoError(t, s.HandOff.LeaveOut(ctx, "mes", 3, "Ines", "told by hand"))
	now = standing(t, s)
	assert.Nil(t, now.Trouble)
	assert.True(t, now.Leaves(3))
	assert.False(t, now.Leaves(2))

	number, err := s.HandOff.EventOf(ctx, second)
	require.NoError(t, err)
	assert.EqualValues(t, 2, number)
	number, err = s.HandOff.EventOf(ctx, third)
	require.NoError(t, err)
	assert.ErrorIs(t, s.HandOff.Again(ctx, "mes", number+1, "Ines", "lost"), handoff.ErrAhead, "it would leave one out")
	require.NoError(t, s.HandOff.Again(ctx, "mes", 1, "Ines", "lost"))
	assert.ErrorIs(t, s.HandOff.Delivered(ctx, st, 3), handoff.ErrMoved)
	assert.Zero(t, standing(t, s).Has)
	assert.Empty(t, complaints(t, s))
}

func standing(t testing.TB, s *Store) *handoff.Progress {
	t.Helper()
	st, err := s.HandOff.Receiver(t.Context(), "mes")
	require.NoError(t, err)
	require.NotNil(t, st)
	return st
}

// Of two programs on one store one sends to a receiver, until it lets go or ends.
func TestOneProgramSends(t *testing.T) {
	s := openTemp(t)
	other, err := OpenWith(t.Context(), s.Path(), testSeams())
	require.NoError(t, err)
	defer other.Close()
	release, taken, err := s.HandOff.Alone("mes")
	require.NoError(t, err)
	require.False(t, taken)
	_, taken, err = other.HandOff.Alone("mes")
	require.NoError(t, err)
	assert.True(t, taken)
	free, taken, err := other.HandOff.Alone("archive")
	require.NoError(t, err)
	assert.False(t, taken, "another receiver")
	free()
	release()
	release, taken, err = other.HandOff.Alone("mes")
	require.NoError(t, err)
	assert.False(t, taken)
	release()
}

// Stores of before get an event for whatever they have, in the order of its time.
func TestOutboxOfBefore(t *testing.T) {
	s := openChecked(t, older(t, "version9.sql"), testSeams())
	all := told(t, s, 0)
	require.NotEmpty(t, all)
	assert.True(t, slices.IsSortedFunc(all, func(a, b handoff.Told) int { return a.At.Compare(b.At) }))
	st, err := s.HandOff.Begin(t.Context(), "mes")
	require.NoError(t, err)
	assert.Zero(t, st.Behind, "nothing of it is sent unless somebody asks")
}

// handedOff begins to hand on to a receiver.
func handedOff(t *testing.T, s *Store) {
	t.Helper()
	_, err := s.HandOff.Begin(context.Background(), "mes")
	require.NoError(t, err)
}

// BenchmarkOutbox compares the durable storing of one run with its event and without one, in
// turn on the same disk.
func BenchmarkOutbox(b *testing.B) {
	with, without := openTemp(b), unchecked(b)
	_, err := raw(without).Exec(`DROP TRIGGER outbox_run`)
	require.NoError(b, err)
	rng := rand.New(rand.NewPCG(1, 1))
	var saves, bare []time.Duration
	for n := 0; b.Loop(); n++ {
		run := twenty(rng, fmt.Sprintf("24-%06d", n))
		for _, s := range []struct {
			*Store
			took *[]time.Duration
		}{{with, &saves}, {without, &bare}} {
			*s.took = append(*s.took, timed(b, func() error {
				_, err := s.Runs.Save(b.Context(), runstest.Climate(), run)
				return err
			}))
		}
	}
	b.ReportMetric(0, "ns/op") // would count both
	b.ReportMetric(float64(quantile(saves, 0.5))/float64(quantile(bare, 0.5)), "commit-ratio-p50")
}

// unchecked is a store that is not checked when it closes.
func unchecked(b *testing.B) *Store {
	b.Helper()
	s, err := OpenWith(b.Context(), b.TempDir()+"/padjig.db", testSeams())
	require.NoError(b, err)
	b.Cleanup(func() { _ = s.Close() })
	return s
}
