package asked_test

import (
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/plant/asked"
	"padjig/results/plant/conflict"
	"padjig/results/plant/forward"
	"padjig/results/plant/planttest"
	"padjig/results/plant/postgres"
	"padjig/results/plant/roles"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/results/runs/elsewhere"
	"padjig/results/runs/runstest"
	"padjig/sequence"
)

var server *planttest.Server

func TestMain(m *testing.M) { planttest.Run(m, &server) }

// station is one with records of its own, that forwards them when it is told to.
type station struct {
	*testing.T
	*results.Store
	plant *sql.DB
	name  string
}

func newStation(t *testing.T, plant *sql.DB, name string) station {
	t.Helper()
	s, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "records.sqlite"))
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	return station{t, s, plant, name}
}

func (s station) forward() {
	s.Helper()
	_, err := forward.All(s.Context(), s.plant, s.Store, s.name)
	require.NoError(s, err)
}

// ask asks the plant as the station would, and gives the history of the unit here and elsewhere together.
func (s station) ask(serial string) (here, together runs.Attempts, u *elsewhere.Unit) {
	s.Helper()
	u, err := asked.At(s.plant, s.name)(s.Context(), serial)
	require.NoError(s, err)
	h, err := s.Runs.History(s.Context(), serial)
	require.NoError(s, err)
	return h.Of("GH-20", false), h.With(u).Of("GH-20", false), u
}

// begin begins a run by what the plant answers, as far as nothing speaks against it.
func (s station) begin(run sequence.Run, a elsewhere.Answer) *runs.Begun {
	s.Helper()
	b, err := s.Runs.Begin(s.Context(), runstest.Climate(), runs.Start{
		Serial: run.Serial, Jig: run.Jig, Actuation: run.Actuation, Operator: run.Operator, Purpose: run.Purpose, Case: run.Case,
		Started: time.Now(), Asked: a,
	}, func(runs.History) error { return nil })
	require.NoError(s, err)
	return b
}

// tests tests a unit by what the plant answers.
func (s station) tests(run sequence.Run, a elsewhere.Answer) runs.Stored {
	s.Helper()
	b := s.begin(run, a)
	run.Attempt, run.Started, run.Duration = b.Attempt, b.Started, sequence.Seconds(time.Millisecond)
	id, err := b.Save(s.Context(), run)
	require.NoError(s, err)
	stored, err := s.Runs.Run(s.Context(), id)
	require.NoError(s, err)
	return stored
}

func (s station) given(u *elsewhere.Unit) elsewhere.Answer {
	return elsewhere.Answer{Word: elsewhere.Given, Unit: u}
}

func two(t *testing.T) (one, other station) {
	t.Helper()
	plant := server.Plant(t)
	one, other = newStation(t, plant, "line-1"), newStation(t, plant, "line-2")
	one.forward() // both are known
	other.forward()
	return one, other
}

// A fail at one station is an attempt at the other, and none of a station's own runs is counted twice, forwarded or not.
func TestAttemptsOverStations(t *testing.T) {
	one, other := two(t)
	one.tests(runstest.Failed("24-1"), elsewhere.Answer{})
	_, together, u := other.ask("24-1")
	assert.Zero(t, together.Used(), "not forwarded yet: nobody knows")
	assert.Empty(t, u.Runs)

	one.forward()
	here, together, u := other.ask("24-1")
	assert.Zero(t, here.Used())
	assert.Equal(t, 1, together.Used())
	assert.Equal(t, []string{"line-1"}, together.Stations)
	stored := other.tests(runstest.Failed("24-1"), other.given(u))
	assert.Equal(t, 2, stored.Attempt)
	for _, when := range []string{"before it is forwarded", "and after"} {
		here, together, _ = other.ask("24-1")
		assert.Equal(t, 1, here.Used(), when)
		assert.Equal(t, 2, together.Used(), when)
		assert.Equal(t, 1, together.Apart, when)
		other.forward()
	}
	_, together, _ = one.ask("24-1")
	assert.Equal(t, 2, together.Used(), "the first sees the second's too")
	conflicts, err := conflict.Ask(t.Context(), results.Over(one.plant, "plant"), conflict.Asked{Serial: "24-1"})
	require.NoError(t, err)
	assert.Empty(t, conflicts.Conflicts, "one after the other, and each knew of the other's")
}

// A unit that passed elsewhere has passed, by the name of that station; what is decided alone meanwhile is a conflict when both are there.
func TestPassedElsewhere(t *testing.T) {
	one, other := two(t)
	one.tests(runstest.Passed("24-1"), elsewhere.Answer{})
	other.tests(runstest.Passed("24-1"), elsewhere.Answer{Word: elsewhere.Late, Took: time.Second})
	one.forward()
	here, together, _ := newStation(t, one.plant, "line-2").ask("24-1")
	assert.False(t, here.Passed)
	assert.True(t, together.Passed)
	assert.Equal(t, "line-1", together.PassedAt)

	other.forward()
	a, err := conflict.Ask(t.Context(), results.Over(one.plant, "plant"), conflict.Asked{Serial: "24-1"})
	require.NoError(t, err)
	require.NotEmpty(t, a.Conflicts)
	known := a.Conflicts[len(a.Conflicts)-1].Known
	assert.Equal(t, conflict.PassedElsewhere, a.Conflicts[len(a.Conflicts)-1].Code)
	assert.Equal(t, []string{"", "late"}, []string{known[0].Plant, known[1].Plant}, "what rests on the station alone is told")
}

// Starts that go on elsewhere are known as soon as they are forwarded, and attempts once it is known that they will not end.
func TestInHandElsewhere(t *testing.T) {
	one, other := two(t)
	b := one.begin(runstest.Passed("24-1"), elsewhere.Answer{})
	one.forward()
	_, together, u := other.ask("24-1")
	require.NotNil(t, u.InHand(false))
	assert.Nil(t, u.InHand(true))
	assert.Equal(t, "line-1", u.InHand(false).Station)
	assert.Equal(t, 1, together.Unfinished)
	b.LetGo()
	one.begin(runstest.Passed("24-1"), elsewhere.Answer{}).LetGo() // closes the first
	one.begin(runstest.Passed("24-2"), elsewhere.Answer{}).LetGo()
	one.forward()
	_, together, u = other.ask("24-1")
	assert.Equal(t, 2, together.Unfinished)
	require.Len(t, u.Starts, 2)
	assert.Equal(t, []bool{true, false}, []bool{u.Starts[0].Closed, u.Starts[1].Closed})
}

// A case at another station keeps a unit out of production while it is open; back in production the unit begins anew, whatever it
// was found to be before.
func TestCaseElsewhere(t *testing.T) {
	one, other := two(t)
	one.tests(runstest.Passed("24-1"), elsewhere.Answer{})
	one.forward()
	desk := newStation(t, one.plant, "desk")
	c, err := desk.Returns.OpenCase(t.Context(), "24-1", "GH-20", returns.Intake{
		Received: time.Now(), Complaint: "key works sometimes", ComplaintText: "7 needs two tries", Conditions: []string{"nothing visible"}, Customer: "Hall 4", By: "Jon",
	})
	require.NoError(t, err)
	desk.forward()
	history := func() runs.History {
		h, err := other.Runs.History(t.Context(), "24-1")
		require.NoError(t, err)
		_, _, u := other.ask("24-1")
		return h.With(u)
	}
	h := history()
	assert.True(t, h.Past.Open)
	assert.Equal(t, "desk", h.Past.Station)
	assert.Equal(t, c.Number, h.Past.Case)

	require.NoError(t, desk.Returns.SayNoPhoto(t.Context(), c, returns.NoPhoto{Reason: "nothing to see", By: "Jon"}))
	require.NoError(t, desk.Returns.Dispose(t.Context(), c, returns.Disposition{
		Code: returns.CustomerDamage, Disposal: returns.ToProduction, By: "Jon", Reason: "asked for",
		Answers: map[string]string{"nothing repaired": "as asked", "not tested since": "as asked", "no damage seen": "as asked"},
	}))
	desk.forward()
	h = history()
	assert.False(t, h.Past.Open)
	assert.Equal(t, returns.ToProduction, h.Past.Disposal)
	assert.False(t, h.Of("GH-20", false).Passed, "that was before it came back")
	assert.Equal(t, 2, h.Of("GH-20", false).Next())
}

// Who may read alone can ask. A database that is none, or of an older padjig, and a station that nobody added are said to be so.
func TestWhoMayAsk(t *testing.T) {
	one, _ := two(t)
	one.tests(runstest.Failed("24-1"), elsewhere.Answer{})
	one.forward()
	p, err := roles.On(t.Context(), one.plant)
	require.NoError(t, err)
	require.NoError(t, p.Prepare(t.Context()))
	address := server.Address(p.Name())
	_, err = one.plant.ExecContext(t.Context(), `CREATE ROLE `+p.Name()+`_looks LOGIN IN ROLE `+p.Group(roles.Reader))
	require.NoError(t, err)
	reader, err := postgres.Open(strings.Replace(address, "user=owner", "user="+p.Name()+"_looks", 1))
	require.NoError(t, err)
	t.Cleanup(func() { _ = reader.Close() })
	u, err := asked.At(reader, "line-2")(t.Context(), "24-1")
	require.NoError(t, err)
	assert.Len(t, u.Runs, 1)

	word := func(db *sql.DB, member string) elsewhere.Word {
		plant := asked.New(asked.At(db, member), time.Minute)
		defer plant.Close()
		return plant.Ask("24-1").Settle(t.Context()).Word
	}
	assert.Equal(t, elsewhere.Given, word(reader, "line-2"))
	assert.Equal(t, elsewhere.Refused, word(reader, "line-9"))
	empty, err := postgres.Open(server.Empty(t))
	require.NoError(t, err)
	t.Cleanup(func() { _ = empty.Close() })
	assert.Equal(t, elsewhere.Refused, word(empty, "line-1"))
	_, err = one.plant.ExecContext(t.Context(), `ALTER TABLE override RENAME TO override_of_before`)
	require.NoError(t, err)
	assert.Equal(t, elsewhere.Refused, word(one.plant, "line-2"))
}

// A server that is down at the start, comes, is killed and comes back is found by itself each time.
func TestServerThatComesAndGoes(t *testing.T) {
	dir, err := os.MkdirTemp("", "plant") // short, as sockets need it
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, os.RemoveAll(dir)) })
	own, err := planttest.Make(dir, "fsync=off")
	require.NoError(t, err)
	require.NoError(t, own.Start())
	address := own.Empty(t)
	db, err := postgres.Open(address)
	require.NoError(t, err)
	t.Cleanup(func() { _ = db.Close() })
	_, err = postgres.Migrate(t.Context(), db)
	require.NoError(t, err)
	one, other := newStation(t, db, "line-1"), newStation(t, db, "line-2")
	one.tests(runstest.Failed("24-1"), elsewhere.Answer{})
	one.forward()
	other.forward()
	require.NoError(t, own.End(syscall.SIGINT))

	plant := asked.New(asked.At(db, "line-2"), time.Minute) // far more than a server on this machine needs
	defer plant.Close()
	word := func() elsewhere.Answer { return plant.Ask("24-1").Settle(t.Context()) }
	assert.Equal(t, elsewhere.Away, word().Word)
	require.NoError(t, own.Start())
	a := word()
	assert.Equal(t, elsewhere.Given, a.Word)
	assert.Len(t, a.Unit.Runs, 1)
	require.NoError(t, own.End(syscall.SIGKILL))
	assert.Equal(t, elsewhere.Away, word().Word)
	require.NoError(t, own.Start())
	a = word()
	assert.Equal(t, elsewhere.Given, a.Word)
	assert.Len(t, a.Unit.Runs, 1)
	require.NoError(t, own.End(syscall.SIGINT))
}

// What a run rests on is stored with its start, once, goes to the plant, and is read with the run on both sides.
func TestAskedIsKept(t *testing.T) {
	one, other := two(t)
	one.tests(runstest.Failed("24-1"), elsewhere.Answer{})
	one.forward()
	_, _, u := other.ask("24-1")
	other.tests(runstest.Failed("24-1"), elsewhere.Answer{Word: elsewhere.Given, Unit: u, Took: 3 * time.Millisecond})
	other.tests(runstest.Failed("24-2"), elsewhere.Answer{Word: elsewhere.Away})
	other.forward()
	plant := results.Over(one.plant, "plant")
	for _, s := range []*results.Store{other.Store, plant} {
		for serial, words := range map[string][]string{"24-1": {"", "given"}, "24-2": {"away"}} {
			list, err := s.Runs.Unit(t.Context(), serial)
			require.NoError(t, err)
			assert.Equal(t, words[len(words)-1], list[len(list)-1].Plant)
		}
		var attempts, took int64
		require.NoError(t, s.View(t.Context(), func(tx *sql.Tx) error {
			return tx.QueryRowContext(context.Background(), `SELECT attempts, took_us FROM asked WHERE answer = 'given'`).Scan(&attempts, &took)
		}))
		assert.EqualValues(t, []int64{1, 3000}, []int64{attempts, took})
	}
	checked, err := forward.Check(t.Context(), one.plant, other.Store, "line-2", func(int64, int64) {})
	require.NoError(t, err)
	assert.True(t, checked.Same(), "%v", checked.Differences)
}
