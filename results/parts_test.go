package results

import (
	"database/sql"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/care"
	"padjig/results/runs"
	"padjig/results/runs/runstest"
)

// workshop is a store in which parts go from jig to jig.
type workshop struct {
	*testing.T
	*Store
	units int
}

func inWorkshop(t *testing.T) *workshop { return &workshop{T: t, Store: openTemp(t)} }

// tailed is a revision whose tail has so many pins.
func tailed(pins int) runs.Revision {
	tail := ""
	for i := range pins {
		tail += fmt.Sprintf(`,"L%d"`, i+1)
	}
	rev := runstest.Defined(`{"tail":[` + tail[1:] + `],"keys":[{"label":"1","actuator":0},{"label":"2","actuator":4}]}`)
	rev.Code = fmt.Sprintf("GH-%d", pins)
	return rev
}

// tests has a jig test so many units.
func (w *workshop) tests(jig string, n int, rev runs.Revision, simulated bool) {
	w.Helper()
	for range n {
		w.units++
		r := runstest.Passed(fmt.Sprintf("24-%06d", w.units))
		r.Jig.Serial, r.Simulated, r.Product = jig, simulated, rev.Code
		_, err := w.Runs.Save(w.Context(), rev, runstest.Of(rev, r))
		require.NoError(w, err)
	}
}

func (w *workshop) record(e care.WearEvent) error {
	if e.By == "" {
		e.By = "Ann"
	}
	return w.Care.SaveWear(w.Context(), e)
}

func (w *workshop) does(e care.WearEvent) {
	w.Helper()
	require.NoError(w, w.record(e))
}

// refuses holds that something cannot be recorded, and is not.
func (w *workshop) refuses(says string, e care.WearEvent) {
	w.Helper()
	before := w.events()
	err := w.record(e)
	require.ErrorContains(w, err, says)
	var refused *care.PartError
	require.ErrorAs(w, err, &refused)
	assert.Equal(w, before, w.events())
}

func (w *workshop) events() (n int) {
	w.Helper()
	require.NoError(w, raw(w.Store).QueryRow(`SELECT count(*) FROM wear_event`).Scan(&n))
	return n
}

func (w *workshop) part(jig, part string, simulated bool) care.PartWear {
	w.Helper()
	all, err := w.Care.Wear(w.Context(), jig, simulated)
	require.NoError(w, err)
	for _, p := range all {
		if p.Part == part {
			return p
		}
	}
	return care.PartWear{}
}

// A probe set is used by every run whose product's tail reaches it, and its uses go with
// it from jig to jig: nobody makes it new by moving it, taking it out and in, or
// forgetting to say what was put in.
func TestPartsCountWhereverTheyAre(t *testing.T) {
	w := inWorkshop(t)
	set := func(jig, name string) care.WearEvent {
		return care.WearEvent{Jig: jig, Part: care.ProbeSet, Name: name, Tip: "crown", Lot: "L-1"}
	}
	w.tests("J-1", 3, tailed(10), false)
	w.does(set("J-1", "PS-1"))
	assert.Equal(t, 0, w.part("J-1", care.ProbeSet, false).Uses, "what was tested before it was fitted")
	w.tests("J-1", 4, tailed(10), false)
	assert.Equal(t, 4, w.part("J-1", care.ProbeSet, false).Uses)

	w.refuses("probe set PS-1 is fitted to jig J-1 already, and its count goes on", set("J-1", "PS-1"))
	w.refuses("probe set PS-1 is fitted to jig J-1 as its probe set: one part is in one place", set("J-2", "PS-1"))
	second := set("J-1", "PS-1")
	second.Part = "probe set 2"
	w.refuses("one part is in one place", second)
	w.refuses("goes by its own name", set("J-2", ""))
	w.refuses("no probe set is fitted to jig J-2", care.WearEvent{Jig: "J-2", Part: care.ProbeSet, Removed: true})
	w.refuses("a nest is replaced, not taken out", care.WearEvent{Jig: "J-1", Part: care.Nest, Removed: true})

	w.does(care.WearEvent{Jig: "J-1", Part: care.ProbeSet, Removed: true})
	assert.Zero(t, w.part("J-1", care.ProbeSet, false), "it is not there any more")
	w.tests("J-1", 2, tailed(10), false) // without it
	w.tests("J-2", 5, tailed(10), false)
	w.does(set("J-2", "PS-1"))
	w.tests("J-2", 6, tailed(10), false)
	w.tests("J-1", 7, tailed(10), false)
	moved := w.part("J-2", care.ProbeSet, false)
	assert.Equal(t, 4+6, moved.Uses)
	assert.Equal(t, 4, moved.Before)

	w.does(set("J-2", "PS-2")) // another in its place takes it out
	w.tests("J-2", 1, tailed(10), false)
	assert.Equal(t, 1, w.part("J-2", care.ProbeSet, false).Uses)
	w.does(set("J-1", "PS-1"))
	assert.Equal(t, 10, w.part("J-1", care.ProbeSet, false).Uses)
	w.does(care.WearEvent{Jig: "J-1", Part: care.ProbeSet, Warn: 10, Block: 11})
	worn, err := w.Care.WornParts(t.Context(), "J-1", false)
	require.NoError(t, err)
	require.Len(t, worn, 1)
	assert.True(t, worn[0].Wearing())
	w.tests("J-1", 1, tailed(10), false)
	worn, err = w.Care.WornParts(t.Context(), "J-1", false)
	require.NoError(t, err)
	assert.True(t, worn[0].Worn(), "at the hard limit nothing is tested")
	w.does(set("J-1", "PS-3"))
	worn, err = w.Care.WornParts(t.Context(), "J-1", false)
	require.NoError(t, err)
	assert.Empty(t, worn, "the limits are the place's, the uses the part's")
}

// A count begins anew for a part that can be named, and for nothing else.
func TestNothingIsNewByBeingCalledSo(t *testing.T) {
	w := inWorkshop(t)
	w.tests("J-1", 3, tailed(10), false)
	for _, part := range []string{care.Nest, "actuator 5"} {
		w.refuses("neither name nor lot", care.WearEvent{Jig: "J-1", Part: part, Note: "new, I think"})
		assert.Equal(t, 3, w.part("J-1", part, false).Uses)
		w.does(care.WearEvent{Jig: "J-1", Part: part, Lot: "L-7"})
		assert.Equal(t, 0, w.part("J-1", part, false).Uses)
	}
	w.tests("J-1", 2, tailed(10), false)
	w.does(care.WearEvent{Jig: "J-1", Part: "actuator 5", Name: "T-1"})
	w.tests("J-1", 2, tailed(10), false)
	w.refuses("actuator T-1 is fitted to jig J-1 already", care.WearEvent{Jig: "J-1", Part: "actuator 5", Name: "T-1"})
	w.refuses("actuator T-1 is fitted to jig J-1 as its actuator 5", care.WearEvent{Jig: "J-2", Part: "actuator 1", Name: "T-1"})
	w.does(care.WearEvent{Jig: "J-1", Part: "actuator 5", Name: "T-2"})
	w.does(care.WearEvent{Jig: "J-1", Part: "actuator 1", Name: "T-1"})
	w.tests("J-1", 1, tailed(10), false)
	assert.Equal(t, 3, w.part("J-1", "actuator 1", false).Uses, "two presses as actuator 5, one as actuator 1")

	_, err := raw(w.Store).Exec(`INSERT INTO wear_event (seq, jig, simulated, part, kind, after_run, by, note, at_us)
		SELECT max(seq) + 1, 'J-1', 0, 'nest', 'replaced', 0, 'x', '', 0 FROM wear_event`)
	require.ErrorContains(t, err, "CHECK constraint failed")
}

// Runs of a product whose tail does not reach a part's channels leave it alone; what
// reaches one of them counts.
func TestPartsServeChannels(t *testing.T) {
	w := inWorkshop(t)
	serves := func(part, name, channels string) {
		c, err := care.ParseChannels(channels)
		require.NoError(t, err)
		w.does(care.WearEvent{Jig: "J-1", Part: part, Name: name, Serves: c})
	}
	serves("probe set 1", "PS-1", "1-10")
	serves("probe set 2", "PS-2", "11-20")
	serves("cable", "W-1", "")
	w.tests("J-1", 3, tailed(10), false)
	w.tests("J-1", 4, tailed(11), false)
	assert.Equal(t, 7, w.part("J-1", "probe set 1", false).Uses)
	assert.Equal(t, 4, w.part("J-1", "probe set 2", false).Uses)
	assert.Equal(t, 7, w.part("J-1", "cable", false).Uses)
	assert.Equal(t, []int{11, 12, 13, 14, 15, 16, 17, 18, 19, 20}, w.part("J-1", "probe set 2", false).Replaced.Serves)

	for text, want := range map[string]string{"": "", "3": "3", "1-3 5,7-8": "1-3 5 7-8", "5 1-4": "1-5", "2 2": "2"} {
		c, err := care.ParseChannels(text)
		require.NoError(t, err)
		assert.Equal(t, want, care.Channels(c))
	}
	for _, text := range []string{"0", "1-65", "5-3", "x", "1-", "-2", "1 to 3"} {
		_, err := care.ParseChannels(text)
		assert.Error(t, err, text)
	}
}

// Practice wears no real jig, and makes none of its parts new, although both bear one
// serial number.
func TestSimulatedJigsWearApart(t *testing.T) {
	w := inWorkshop(t)
	w.does(care.WearEvent{Jig: "J-1", Part: care.Nest, Warn: 3, Block: 4})
	w.tests("J-1", 3, tailed(10), false)
	w.tests("J-1", 5, tailed(10), true)
	assert.Equal(t, 3, w.part("J-1", care.Nest, false).Uses)
	assert.Equal(t, 5, w.part("J-1", care.Nest, true).Uses)
	assert.Zero(t, w.part("J-1", care.Nest, true).Block)
	w.does(care.WearEvent{Jig: "J-1", Part: care.Nest, Simulated: true, Lot: "N-1"})
	assert.Equal(t, 3, w.part("J-1", care.Nest, false).Uses)
	assert.Zero(t, w.part("J-1", care.Nest, true).Uses)
	w.does(care.WearEvent{Jig: "J-1", Part: care.Adapter, Simulated: true, Name: "A-20"})
	w.does(care.WearEvent{Jig: "J-2", Part: care.Adapter, Name: "A-20"})
}

// A clock that was set back changes no count: what counts is the order of the runs.
func TestPartsGoByRunsAndNoClock(t *testing.T) {
	with := testSeams()
	now := time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
	with.Now = func() time.Time { return now }
	w := &workshop{T: t, Store: openChecked(t, filepath.Join(t.TempDir(), "padjig.db"), with)}
	w.tests("J-1", 3, tailed(10), false)
	now = now.AddDate(-1, 0, 0)
	w.does(care.WearEvent{Jig: "J-1", Part: care.Nest, Lot: "N-1"})
	w.tests("J-1", 2, tailed(10), false)
	nest := w.part("J-1", care.Nest, false)
	assert.Equal(t, 2, nest.Uses)
	assert.Equal(t, 2025, nest.Replaced.At.Year())
}

// What somebody recorded before parts had names means what it meant.
func TestWearOfEarlierVersions(t *testing.T) {
	path := older(t, "version9.sql")
	db, err := sql.Open("sqlite3", path)
	require.NoError(t, err)
	_, err = db.Exec(`
		INSERT INTO wear_event (seq, jig, part, kind, after_run, warn, block, by, note, at_us) VALUES
		(1, 'J-0007', 'nest', 'replaced', 1, NULL, NULL, 'Ann', 'new pins', 1772438400000000),
		(2, 'J-0007', 'nest', 'limits', 1, 5, 9, 'Ann', '', 1772438400000000)`)
	require.NoError(t, err)
	var runs int
	require.NoError(t, db.QueryRow(`SELECT count(*) FROM run JOIN jig USING (jig) WHERE jig.serial = 'J-0007' AND seq > 1 AND simulated = 0`).Scan(&runs))
	require.NoError(t, db.Close())
	w := &workshop{T: t, Store: openChecked(t, path, testSeams())}
	for _, simulated := range []bool{false, true} {
		nest := w.part("J-0007", care.Nest, simulated)
		assert.Equal(t, "new pins", nest.Replaced.Note)
		assert.Equal(t, [2]int{5, 9}, [2]int{nest.Warn, nest.Block})
	}
	assert.Equal(t, runs, w.part("J-0007", care.Nest, false).Uses)
	var said string
	require.NoError(t, raw(w.Store).QueryRow(`SELECT group_concat(kind || ' ' || by || ' ' || note, ';') FROM wear_events`).Scan(&said))
	assert.Equal(t, "replaced Ann new pins;limits Ann ", said)
	_, err = raw(w.Store).Exec(`UPDATE wear_event SET by = 'Bea'`)
	require.ErrorContains(t, err, "append-only")
	_, err = raw(w.Store).Exec(`DELETE FROM wear_event`)
	require.ErrorContains(t, err, "append-only")
	w.does(care.WearEvent{Jig: "J-0007", Part: care.Nest, Lot: "N-2"})
}

// Several parts are recorded together or not at all, and a description of what is so
// already records nothing.
func TestPartsAreSettledTogether(t *testing.T) {
	w := inWorkshop(t)
	wanted := []care.WearEvent{
		{Jig: "J-1", Part: "probe set 1", Name: "PS-1", Lot: "L-1", Tip: "crown", Serves: []int{1, 2}, Warn: 5, Block: 9, By: "Ann"},
		{Jig: "J-1", Part: "actuator 5", Lot: "T-1", By: "Ann"},
	}
	needed, err := w.Care.Settle(t.Context(), wanted)
	require.NoError(t, err)
	require.Len(t, needed, 3)
	require.NoError(t, w.Care.SaveWear(t.Context(), needed...))
	needed, err = w.Care.Settle(t.Context(), wanted)
	require.NoError(t, err)
	assert.Empty(t, needed)

	wanted[1].Lot = "T-2"
	wanted = append(wanted, care.WearEvent{Jig: "J-1", Part: "cable", Name: "", Lot: "W", By: "Ann"})
	needed, err = w.Care.Settle(t.Context(), wanted)
	require.NoError(t, err)
	require.Len(t, needed, 2)
	before := w.events()
	require.ErrorContains(t, w.Care.SaveWear(t.Context(), needed...), "goes by its own name")
	assert.Equal(t, before, w.events())
	assert.Equal(t, "T-1", w.part("J-1", "actuator 5", false).Replaced.Lot)
}

// A part that somebody wrote into two places behind the program's back is found.
func TestCheckSeesAPartInTwoPlaces(t *testing.T) {
	w := &workshop{T: t}
	var err error
	w.Store, err = OpenWith(t.Context(), filepath.Join(t.TempDir(), "padjig.db"), testSeams())
	require.NoError(t, err)
	defer w.Close()
	w.does(care.WearEvent{Jig: "J-1", Part: care.ProbeSet, Name: "PS-1"})
	found, err := w.Check(t.Context())
	require.NoError(t, err)
	assert.Empty(t, found)
	_, err = raw(w.Store).Exec(`INSERT INTO wear_event (seq, jig, simulated, part, kind, name, after_run, by, note, at_us)
		SELECT max(seq) + 1, 'J-2', 0, 'probe set 2', 'replaced', 'PS-1', 0, 'x', '', 0 FROM wear_event`)
	require.NoError(t, err)
	found, err = w.Check(t.Context())
	require.NoError(t, err)
	assert.Equal(t, []string{"part PS-1 is fitted in 2 places: J-1, probe set; J-2, probe set 2"}, found)
}
