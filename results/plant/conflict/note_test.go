package conflict_test

import (
	"fmt"
	"math"
	"math/rand/v2"
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
	"padjig/results/plant/conflict"
	"padjig/results/plant/forward"
	"padjig/results/plant/postgres"
	"padjig/results/plant/roles"
	"padjig/results/runs/runstest"
	"padjig/sequence"
)

// A conflict has one name, however much comes to it, and another state with everything that does; what is no part of it changes neither.
func TestNameAndState(t *testing.T) {
	one := func(runs ...conflict.Known) conflict.Conflict {
		all := conflict.OfUnit(runs, nil)
		require.Len(t, all, 1)
		return all[0]
	}
	first := one(at(1, 0, "pass", 1), at(2, 60, "pass", 1))
	more := one(at(1, 0, "pass", 1), at(2, 60, "pass", 1), at(2, 120, "fail", 2))
	assert.Equal(t, first.ID(), more.ID())
	assert.NotEqual(t, first.State(), more.State())
	late := one(at(1, -60, "pass", 1), at(1, 0, "pass", 1), at(2, 60, "pass", 1)) // came later, and is older
	assert.Equal(t, first.ID(), late.ID())
	assert.NotEqual(t, first.State(), late.State())
	returned := one(at(1, 0, "pass", 1), at(2, 60, "pass", 1), func() conflict.Known {
		k := at(2, 120, "pass", 1)
		k.Purpose = "return test"
		return k
	}())
	assert.Equal(t, first.State(), returned.State())
	back := one(at(2, 0, "pass", 1), at(1, 60, "pass", 1))
	assert.NotEqual(t, first.ID(), back.ID(), "there and back are two")
	overlap, turned := one(at(1, 0, "fail", 1), at(2, 5, "fail", 2)), one(at(2, -5, "fail", 2), at(1, 0, "fail", 1))
	assert.Equal(t, overlap.ID(), turned.ID(), "who began is no matter")

	asTwo := func(products ...string) conflict.Conflict {
		var runs []conflict.Known
		for i, p := range products {
			k := at(1, 60*i, "pass", 1)
			k.Product = p
			runs = append(runs, k)
		}
		return one(runs...)
	}
	assert.Equal(t, asTwo("A", "B").State(), asTwo("A", "B", "B").State(), "once more as what it was last")
	assert.NotEqual(t, asTwo("A", "B").State(), asTwo("A", "B", "A").State())
}

// desk is a plant with two stations, and a unit that passed at both.
type desk struct {
	*testing.T
	stations [2]*results.Store
	plant    *results.Store
	address  string
	random   *rand.Rand
}

func newDesk(t *testing.T) *desk {
	t.Helper()
	d := &desk{T: t, address: server.Made(t), random: rand.New(rand.NewPCG(3, 9))}
	for n := range d.stations {
		s, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "station.sqlite"))
		require.NoError(t, err)
		t.Cleanup(func() { assert.NoError(t, s.Close()) })
		d.stations[n] = s
	}
	db, err := postgres.Open(d.address)
	require.NoError(t, err)
	d.plant = results.Over(db, "plant")
	t.Cleanup(func() { _ = d.plant.Close() })
	return d
}

// pad is what a unit's keys read.
func (d *desk) pad() []float64 {
	pad := make([]float64, 20)
	for k := range pad {
		pad[k] = 60 * math.Exp(0.08*d.random.NormFloat64())
	}
	return pad
}

// tests has a unit tested at a station, and forwards it.
func (d *desk) tests(n int, serial string, pad []float64) {
	d.Helper()
	run := runstest.Passed(serial)
	run.Keys, run.Jig.Serial, run.Started = nil, fmt.Sprint("J-", n), time.Now()
	run.Duration = sequence.Seconds(time.Millisecond)
	for k, ohm := range pad {
		closed := fixture.Resistance{Value: quantity.Ohm(ohm * math.Exp(0.005*d.random.NormFloat64())), U: 0.02}
		run.Keys = append(run.Keys, sequence.KeyResult{Key: fmt.Sprint(k + 1), Lines: [2]string{fmt.Sprint("R", k/4+1), fmt.Sprint("C", k%4+1)},
			Verdict: sequence.KeyPass, Closed: &closed})
	}
	_, err := d.stations[n].Runs.Save(d.Context(), runstest.Climate(), run)
	require.NoError(d, err)
}

func (d *desk) forward() {
	d.Helper()
	db, err := postgres.Open(d.address)
	require.NoError(d, err)
	defer db.Close()
	for n, s := range d.stations {
		_, err := forward.All(d.Context(), db, s, fmt.Sprint("line-", n))
		require.NoError(d, err)
	}
}

func (d *desk) ask(a conflict.Asked) []conflict.Conflict {
	d.Helper()
	answer, err := conflict.Ask(d.Context(), d.plant, a)
	require.NoError(d, err)
	return answer.Conflicts
}

// A conflict is closed with who, when and why, and is not listed then; what comes to it later opens it again, and the note stays. It
// is closed once, in the state that was seen, and by an office alone.
func TestConflictIsClosedUntilSomethingComesToIt(t *testing.T) {
	d := newDesk(t)
	d.tests(0, "24-1", d.pad())
	d.tests(1, "24-1", d.pad())
	d.forward()
	owner, err := postgres.Open(d.address)
	require.NoError(t, err)
	t.Cleanup(func() { _ = owner.Close() })
	plant, err := roles.On(t.Context(), owner)
	require.NoError(t, err)
	require.NoError(t, plant.Prepare(t.Context()))
	as := map[string]string{}
	login, err := plant.AddOffice(t.Context(), "pages", "")
	require.NoError(t, err)
	as["office"] = login.Role
	login, err = plant.AddReader(t.Context(), "quality", "")
	require.NoError(t, err)
	as["reader"] = login.Role
	login, err = plant.AddStation(t.Context(), "line-0", "")
	require.NoError(t, err)
	as["station"] = login.Role

	list := d.ask(conflict.Asked{})
	require.Len(t, list, 1)
	c := list[0]
	assert.False(t, c.Closed())
	decide := func(role string, change func(*conflict.Decision)) (conflict.Conflict, error) {
		decision := conflict.Decision{ID: c.ID(), State: c.State(), By: "Quinn", Reason: "one unit, sent on by mistake"}
		if change != nil {
			change(&decision)
		}
		db := owner
		if role != "" {
			var err error
			db, err = postgres.Open(strings.ReplaceAll(d.address, "user=owner", "user="+as[role]))
			require.NoError(t, err)
			defer db.Close()
		}
		return conflict.Decide(t.Context(), db, results.Over(db, "plant"), decision)
	}
	for role, why := range map[string]string{"reader": "read-only transaction", "station": "permission denied"} {
		_, err := decide(role, nil)
		assert.ErrorContains(t, err, why, role)
	}
	assert.Equal(t, list, d.ask(conflict.Asked{}), "nothing came of it")
	_, err = decide("office", func(d *conflict.Decision) { d.State = "another" })
	require.ErrorIs(t, err, conflict.ErrMoved)
	_, err = decide("office", func(d *conflict.Decision) { d.ID = "another" })
	require.ErrorIs(t, err, conflict.ErrNone)
	closed, err := decide("office", func(d *conflict.Decision) { d.Code, d.Serial = conflict.PassedElsewhere, "24-1" })
	require.NoError(t, err)
	assert.True(t, closed.Closed())
	_, err = decide("office", nil)
	require.ErrorIs(t, err, conflict.ErrAlready)
	assert.Empty(t, d.ask(conflict.Asked{}))
	list = d.ask(conflict.Asked{Show: conflict.Closed})
	require.Len(t, list, 1)
	require.Len(t, list[0].Notes, 1)
	assert.Equal(t, "Quinn: one unit, sent on by mistake", list[0].Notes[0].By+": "+list[0].Notes[0].Reason)
	assert.WithinDuration(t, time.Now(), list[0].Notes[0].At, time.Hour)
	assert.Len(t, d.ask(conflict.Asked{Show: conflict.Both}), 1)

	d.tests(1, "24-2", d.pad()) // another unit is no matter
	d.forward()
	assert.Empty(t, d.ask(conflict.Asked{}))
	d.tests(1, "24-1", d.pad())
	d.forward()
	list = d.ask(conflict.Asked{Codes: []conflict.Code{conflict.PassedElsewhere}})
	require.Len(t, list, 1, "it was tested there once more")
	assert.True(t, list[0].Came() && !list[0].Closed())
	assert.Len(t, list[0].Notes, 1, "and what was said of it stays")
	_, err = decide("office", nil)
	require.ErrorIs(t, err, conflict.ErrMoved, "with the page of before")
	c = list[0]
	_, err = decide("office", func(d *conflict.Decision) { d.Reason = "and once more" })
	require.NoError(t, err)
	assert.Empty(t, d.ask(conflict.Asked{Codes: []conflict.Code{conflict.PassedElsewhere}}))
	opened, err := decide("office", func(d *conflict.Decision) { d.Reopen, d.Reason = true, "it was two units after all" })
	require.NoError(t, err)
	assert.False(t, opened.Closed() || opened.Came())
	require.Len(t, opened.Notes, 3)

	for _, statement := range []string{`UPDATE conflict_note SET reason = 'nothing'`, `DELETE FROM conflict_note`, `TRUNCATE conflict_note`} {
		_, err := owner.ExecContext(t.Context(), statement)
		require.ErrorContains(t, err, "append-only", statement)
	}
}

// A serial number under which two pads were tested is a conflict of its own, also at one station; a unit that was tested again is none,
// and neither is one about which nothing can be told.
func TestTwoUnitsUnderOneNumber(t *testing.T) {
	d := newDesk(t)
	made := map[string][]float64{}
	for i := range 12 {
		serial := fmt.Sprintf("24-%06d", i+1)
		made[serial] = d.pad()
		d.tests(0, serial, made[serial])
	}
	d.tests(0, "24-000003", made["24-000003"]) // once more
	d.tests(1, "24-000004", made["24-000004"])
	d.tests(0, "24-000005", d.pad()) // another unit
	d.forward()
	asked := conflict.Asked{Codes: []conflict.Code{conflict.TwoUnits}}
	list := d.ask(asked)
	require.Len(t, list, 1)
	assert.Equal(t, "24-000005", list[0].Of)
	assert.Len(t, list[0].Known, 2)
	assert.Equal(t, "line-0", list[0].Known[1].Station)
	answer, err := conflict.Ask(t.Context(), d.plant, asked)
	require.NoError(t, err)
	assert.Equal(t, 3, answer.Twice.Looked)
	assert.True(t, answer.Twice.Asked && !answer.Twice.More)
	assert.Empty(t, d.ask(conflict.Asked{Codes: asked.Codes, Since: time.Now().Add(time.Hour)}))
	assert.Empty(t, d.ask(conflict.Asked{Codes: asked.Codes, Until: time.Now().Add(-time.Hour)}))
	assert.Len(t, d.ask(conflict.Asked{Codes: asked.Codes, Serial: "24-000005"}), 1)
	assert.Empty(t, d.ask(conflict.Asked{Codes: asked.Codes, Serial: "24-000003"}))

	// It says what the unit's page says.
	for serial, unlike := range map[string]bool{"24-000003": false, "24-000004": false, "24-000005": true} {
		runs, err := d.plant.Runs.Unit(t.Context(), serial)
		require.NoError(t, err)
		c, err := d.plant.Pads.Before(t.Context(), runs[len(runs)-1])
		require.NoError(t, err)
		assert.Equal(t, unlike, c.OwnChanged, serial)
	}
	_, err = d.stations[0].Twice(t.Context(), pads.TwiceAsked{})
	assert.ErrorIs(t, err, pads.ErrOfOne, "a station keeps no short rows")
}
