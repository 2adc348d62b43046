package count_test

import (
	"context"
	"database/sql"
	"errors"
	"flag"
	"fmt"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results"
	"padjig/results/care"
	"padjig/results/floor"
	"padjig/results/hourly"
	"padjig/results/plant/count"
	"padjig/results/plant/forward"
	"padjig/results/plant/planttest"
	"padjig/results/runs"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
)

var server *planttest.Server

func TestMain(m *testing.M) {
	flag.Parse()
	if flag.Lookup("rapid.checks").Value.String() == "100" {
		_ = flag.Set("rapid.checks", "25") // each is a plant of its own people and units
	}
	planttest.Run(m, &server)
}

// event is something that happened at a station.
type event struct {
	station  int
	unit     string
	outcome  sequence.Outcome
	harness  bool // no key was pressed
	purpose  sequence.Purpose
	attempt  int
	revision runs.Revision
	jig      int // of the station
	ohm      float64
	hours    int  // since the event before
	lots     bool // begins a lot before it
	checked  bool // it was over a reference unit, as is said after it
}

func anyEvent(stations, units int, crossing bool) *rapid.Generator[event] {
	revisions := []runs.Revision{runstest.Climate(), runstest.Defined(`{"code":"GH-20","keys":21}`), runstest.Defined(`{"code":"GH-12"}`)}
	revisions[1].Label = "D"
	revisions[2].Code = "GH-12"
	return rapid.Custom(func(t *rapid.T) event {
		e := event{
			station: rapid.IntRange(0, stations-1).Draw(t, "station"),
			outcome: rapid.SampledFrom([]sequence.Outcome{
				sequence.Pass, sequence.Pass, sequence.Fail, sequence.Fail, sequence.Reseat, sequence.Incomplete, sequence.Aborted,
			}).Draw(t, "outcome"),
			harness:  rapid.IntRange(0, 7).Draw(t, "harness") == 0,
			purpose:  rapid.SampledFrom([]sequence.Purpose{"", "", "", sequence.GaugeStudy}).Draw(t, "purpose"),
			attempt:  rapid.IntRange(1, 2).Draw(t, "attempt"),
			revision: rapid.SampledFrom(slices.Concat(revisions, revisions[:1])).Draw(t, "revision"),
			jig:      rapid.IntRange(0, 1).Draw(t, "jig"),
			ohm:      rapid.Float64Range(-0.05, 400).Draw(t, "ohm"),
			hours:    rapid.SampledFrom([]int{0, 0, 0, 0, 1, 9, 40}).Draw(t, "hours"),
			lots:     rapid.IntRange(0, 5).Draw(t, "lots") == 0,
			checked:  rapid.IntRange(0, 9).Draw(t, "checked") == 0,
		}
		e.unit = fmt.Sprint("unit ", rapid.IntRange(1, units).Draw(t, "unit"))
		if !crossing {
			e.unit += fmt.Sprint(" of ", e.station)
		}
		return e
	})
}

func (e event) run(history string, at time.Time) sequence.Run {
	run := runstest.Passed(history + e.unit)
	if e.outcome == sequence.Fail {
		run = runstest.Failed(history + e.unit)
	}
	run.Product, run.Revision, run.Hash = e.revision.Code, e.revision.Label, e.revision.Hash
	run.Simulated, run.Operator, run.Purpose, run.Attempt = true, history, e.purpose, e.attempt
	run.Jig.Serial, run.Started = fmt.Sprintf("J-%d-%d", e.station, e.jig), at.Add(-10*time.Second)
	run.Keys[0].Closed = &fixture.Resistance{Value: quantity.Ohm(e.ohm), U: 0.3}
	switch {
	case e.harness && e.outcome != sequence.Fail:
		return runstest.Electrical(run)
	case e.outcome != sequence.Pass && e.outcome != sequence.Fail:
		run.Outcome, run.Reason = e.outcome, "so it was"
		run.Findings = runstest.Failed("").Findings[1:]
	}
	return run
}

// plant are stations, a store that all of them might have shared, and the plant.
type plant struct {
	stations []*results.Store
	union    *results.Store
	db       *sql.DB
	senders  []*forward.Forwarder
	at       time.Time
	made     int // histories
}

func newPlant(t *testing.T, stations int) *plant {
	p := &plant{db: server.Plant(t), at: time.Date(2020, 3, 2, 5, 0, 0, 0, time.UTC)}
	open := func() *results.Store {
		s, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "station.sqlite"))
		require.NoError(t, err)
		t.Cleanup(func() { assert.NoError(t, s.Close()) })
		shifts := floor.ShiftPlan{Zone: "Europe/Vienna", By: "Ines", Reason: "as ever", Shifts: []floor.Shift{
			{Name: "early", Begins: 6 * 60, Ends: 14 * 60}, {Name: "late", Begins: 14 * 60, Ends: 22 * 60}}}
		require.NoError(t, load(t.Context(), s, []results.Entry{{At: p.at, Shifts: &shifts}}))
		return s
	}
	p.union = open()
	for n := range stations {
		p.stations = append(p.stations, open())
		name := fmt.Sprint("station-", n)
		_, err := forward.Join(t.Context(), p.db, name)
		require.NoError(t, err)
		f := &forward.Forwarder{Plant: p.db, Records: p.stations[n], Member: name}
		t.Cleanup(f.Close)
		p.senders = append(p.senders, f)
	}
	return p
}

// load stores entries at once.
func load(ctx context.Context, s *results.Store, entries []results.Entry) error {
	list := make(chan results.Entry, len(entries))
	for _, e := range entries {
		list <- e
	}
	close(list)
	return s.ImportSimulated(ctx, 1, list, nil)
}

// happen stores a history at its stations and in the union, and gives the name that its people and units have.
func (p *plant) happen(ctx context.Context, events []event) (history string, err error) {
	p.made++
	history = fmt.Sprintf("history %d ", p.made)
	waiting := map[*results.Store][]results.Entry{}
	keep := func(s *results.Store) error {
		defer delete(waiting, s)
		return load(ctx, s, waiting[s])
	}
	for n, e := range events {
		p.at = p.at.Add(time.Duration(e.hours)*time.Hour + time.Minute)
		run := e.run(history, p.at)
		for _, s := range []*results.Store{p.stations[e.station], p.union} {
			if e.lots {
				lots := floor.LotChange{Jig: run.Jig.Serial, Product: run.Product, Simulated: true, By: "Ines",
					Lots: floor.Lots{"membrane": fmt.Sprint(history, n)}}
				waiting[s] = append(waiting[s], results.Entry{At: p.at, Lots: &lots})
			}
			waiting[s] = append(waiting[s], results.Entry{At: p.at, Run: &run, Revision: &e.revision})
			if e.checked && e.purpose == "" {
				if err := errors.Join(keep(s), check(ctx, s, run.Serial)); err != nil {
					return "", err
				}
			}
		}
	}
	for s := range waiting {
		err = errors.Join(err, keep(s))
	}
	return history, err
}

// check says of the newest run that it was over a reference unit.
func check(ctx context.Context, s *results.Store, unit string) error {
	var id []byte
	err := s.View(ctx, func(tx *sql.Tx) error {
		return tx.QueryRowContext(ctx, `SELECT id FROM run ORDER BY seq DESC LIMIT 1`).Scan(&id)
	})
	if err != nil {
		return err
	}
	return s.Care.SaveReferenceCheck(ctx, care.ReferenceCheck{Run: store.ID(id), Unit: unit})
}

// cells are the cells of a history, each by what its runs have in common, as text.
func cells(ctx context.Context, view func(context.Context, func(*sql.Tx) error) error, history string) (map[string]string, error) {
	all := map[string]string{}
	err := view(ctx, func(tx *sql.Tx) error {
		names := map[int64]string{}
		type cell struct {
			number int64
			key    string
			sums   []string
		}
		err := store.Visit(ctx, tx, func(rows *sql.Rows) error {
			var number int64
			var label string
			err := rows.Scan(&number, &label)
			names[number] = label
			return err
		}, `SELECT key, label FROM key`)
		if err != nil {
			return err
		}
		found, err := store.Collect(ctx, tx, func(rows *sql.Rows) (c cell, err error) {
			var hour, simulated int64
			var code, label, jig, shift, lots, actuation, purpose string
			var n [10]int64
			err = rows.Scan(&c.number, &hour, &code, &label, &jig, &shift, &lots, &actuation, &simulated, &purpose,
				&n[0], &n[1], &n[2], &n[3], &n[4], &n[5], &n[6], &n[7], &n[8], &n[9])
			c.key = fmt.Sprint(hour, " ", code, " ", label, " ", jig, " ", shift, " ", lots, " ", actuation, " ", simulated, " ", purpose)
			c.sums = []string{fmt.Sprint(n)}
			return c, err
		}, `
			SELECT cell.cell, hour, code, label, jig.serial, coalesce(shift.name, ''), coalesce(membrane, ''), actuation, cell.simulated, cell.purpose,
			       runs, reseat, incomplete, aborted, units, first_passed, last_passed, retests, cures, relapses `+hourly.AggregatesFrom+`
			WHERE operator = ? AND runs > 0`, history)
		if err != nil {
			return err
		}
		for _, c := range found {
			var sums []string
			err := store.Visit(ctx, tx, func(rows *sql.Rows) error {
				var packed []byte
				if err := rows.Scan(&packed); err != nil {
					return err
				}
				return hourly.EachHistogram(packed, func(key int64, r *hourly.Unpacker) bool {
					var h hourly.Histogram
					r.Into(&h)
					sums = append(sums, fmt.Sprintf("%s %+v", names[key], h))
					return true
				})
			}, `SELECT packed FROM cell_reading WHERE cell = ?`, c.number)
			if err != nil {
				return err
			}
			findings, err := store.Collect(ctx, tx, func(rows *sql.Rows) (string, error) {
				var what, location string
				var units, worst, runs int64
				err := rows.Scan(&what, &location, &units, &worst, &runs)
				return fmt.Sprint(what, " ", location, " ", units, worst, runs), err
			}, `SELECT what, location, units, worst, runs FROM cell_finding JOIN fault USING (fault) WHERE cell = ?`, c.number)
			if err != nil {
				return err
			}
			sums = append(sums, findings...)
			slices.Sort(sums)
			all[c.key] = strings.Join(append(c.sums, sums...), "\n")
		}
		return nil
	})
	return all, err
}

func (p *plant) cells(ctx context.Context, history string) (map[string]string, error) {
	return cells(ctx, results.Over(p.db, "plant").View, history)
}

// Whatever units stations have in common, and in whatever order their records arrive, the plant counts what one
// station would have counted that had made all the runs.
func TestCellsAreThoseOfOneStation(t *testing.T) {
	p := newPlant(t, 4)
	rapid.Check(t, func(t *rapid.T) {
		stations := rapid.IntRange(1, 4).Draw(t, "stations")
		crossing := rapid.Bool().Draw(t, "crossing")
		history, err := p.happen(context.Background(), rapid.SliceOfN(anyEvent(stations, 3, crossing), 1, 20).Draw(t, "events"))
		require.NoError(t, err)
		for range rapid.IntRange(0, 12).Draw(t, "batches") {
			f := p.senders[rapid.IntRange(0, stations-1).Draw(t, "sender")]
			_, err := f.Batch(context.Background(), rapid.IntRange(1, 60).Draw(t, "size"))
			require.NoError(t, err)
		}
		for _, n := range rapid.Permutation([]int{0, 1, 2, 3}).Draw(t, "last") {
			_, err := p.senders[n].All(context.Background(), func(int64, int64) {})
			require.NoError(t, err)
		}
		got, err := p.cells(context.Background(), history)
		require.NoError(t, err)
		want, err := cells(context.Background(), p.union.View, history)
		require.NoError(t, err)
		require.Equal(t, want, got)
		if crossing && stations > 1 {
			return
		}
		apart := map[string]string{}
		for _, s := range p.stations {
			at, err := cells(context.Background(), s.View, history)
			require.NoError(t, err)
			for key, sums := range at {
				require.NotContains(t, apart, key)
				apart[key] = sums
			}
		}
		require.Equal(t, apart, got)
	})
	p.sound(t)
}

// sound holds the whole plant against its runs.
func (p *plant) sound(t *testing.T) {
	t.Helper()
	found, err := count.Check(t.Context(), results.Over(p.db, "plant"), func(float64) {})
	require.NoError(t, err)
	assert.Empty(t, found)
}

// Stations that forward the same units at the same time lose no count and never wait for each other in a ring.
func TestStationsAtATime(t *testing.T) {
	p := newPlant(t, 4)
	var events []event
	for n := range 240 {
		events = append(events, event{station: n % 4, unit: fmt.Sprint("unit ", n*7%30), attempt: 1, revision: runstest.Climate(), ohm: float64(n),
			outcome: []sequence.Outcome{sequence.Pass, sequence.Fail, sequence.Fail}[n%3], checked: n%17 == 0})
	}
	history, err := p.happen(t.Context(), events)
	require.NoError(t, err)
	var together sync.WaitGroup
	failed := make([]error, len(p.senders))
	for n, f := range p.senders {
		together.Go(func() {
			for more := true; more && failed[n] == nil; {
				moved, err := f.Batch(t.Context(), 50)
				more, failed[n] = moved.More, err
			}
		})
	}
	together.Wait()
	require.NoError(t, errors.Join(failed...))
	got, err := p.cells(t.Context(), history)
	require.NoError(t, err)
	want, err := cells(t.Context(), p.union.View, history)
	require.NoError(t, err)
	assert.Equal(t, want, got)
	p.sound(t)
}

// A run whose readings lie in files alone turns out to be no production: what is known of the readings beside it stays.
func TestReadingsThatAreGone(t *testing.T) {
	p := newPlant(t, 1)
	history, err := p.happen(t.Context(), []event{
		{unit: "a", outcome: sequence.Pass, attempt: 1, revision: runstest.Climate(), ohm: 1},
		{unit: "b", outcome: sequence.Pass, attempt: 1, revision: runstest.Climate(), ohm: 2},
	})
	require.NoError(t, err)
	_, err = p.senders[0].Batch(t.Context(), forward.UsualSize)
	require.NoError(t, err)
	var before []byte
	require.NoError(t, p.db.QueryRowContext(t.Context(), `SELECT packed FROM cell_reading`).Scan(&before))
	tx, err := p.db.BeginTx(t.Context(), nil)
	require.NoError(t, err)
	for _, script := range []string{unguarded, `DELETE FROM run_key WHERE run = (SELECT min(seq) FROM run)`} {
		_, err = tx.ExecContext(t.Context(), script)
		require.NoError(t, err)
	}
	require.NoError(t, tx.Commit())
	p.sound(t)
	require.NoError(t, check(t.Context(), p.stations[0], history+"b"))
	_, err = p.senders[0].Batch(t.Context(), forward.UsualSize)
	require.NoError(t, err)
	var after []byte
	require.NoError(t, p.db.QueryRowContext(t.Context(), `SELECT packed FROM cell_reading WHERE cell = 1`).Scan(&after))
	assert.Equal(t, before, after)
	p.sound(t)
}

// unguarded lets the owner of the server change what the guards of the tables would keep.
const unguarded = `SET LOCAL session_replication_role = replica`

// inside reads in a transaction that is open.
type inside struct{ *sql.Tx }

func (i inside) View(_ context.Context, do func(*sql.Tx) error) error { return do(i.Tx) }

// What a check finds of counts that are not those of the runs.
func TestCheckFinds(t *testing.T) {
	p := newPlant(t, 2)
	_, err := p.happen(t.Context(), []event{
		{unit: "a", outcome: sequence.Fail, attempt: 1, revision: runstest.Climate(), ohm: 1, lots: true},
		{unit: "a", outcome: sequence.Pass, attempt: 2, revision: runstest.Climate(), ohm: 2, station: 1},
		{unit: "b", outcome: sequence.Pass, attempt: 1, revision: runstest.Climate(), ohm: 3},
	})
	require.NoError(t, err)
	for _, f := range p.senders {
		_, err := f.Batch(t.Context(), forward.UsualSize)
		require.NoError(t, err)
	}
	for name, c := range map[string]struct{ script, want string }{
		"nothing":      {`SELECT 1`, ``},
		"not counted":  {`DELETE FROM run_cell WHERE run = (SELECT max(seq) FROM run)`, `run \d+ is not counted`},
		"turn":         {`UPDATE run_cell SET turn = 1 WHERE turn = 2`, `run \d+ is counted as judged run 1 of its unit and is number 2`},
		"hour":         {`UPDATE cell SET hour = hour + 1`, `run \d+ is counted in the wrong cell, \d+`},
		"lots":         {`UPDATE cell SET lots = 0`, `run \d+ is counted in the wrong cell, \d+`},
		"station":      {`UPDATE cell SET member = 3 - member`, `run \d+ is counted for station \d and is of \d`},
		"counts":       {`UPDATE cell SET cures = 0`, `the counts of cell \d+ are not those of its runs`},
		"in the end":   {`UPDATE cell SET last_passed = 0`, `the counts of cell \d+ are not those of its runs`},
		"findings":     {`UPDATE cell_finding SET worst = 0`, `the findings of cell \d+ are not those of its runs`},
		"no findings":  {`DELETE FROM cell_finding`, `the findings of cell \d+ are not those of its runs`},
		"no readings":  {`DELETE FROM cell_reading`, `the readings of cell \d+ are not those of its runs`},
		"a reading":    {`UPDATE run_key SET closed_mohm = 5 WHERE place = 0 AND closed_mohm IS NOT NULL`, `the readings of cell \d+ are not those of its runs`},
		"unit unknown": {`DELETE FROM unit`, `unit .* is not known as its runs are`},
		"two stations": {`UPDATE unit SET stations = 0`, `unit .*a is not known as its runs are`},
	} {
		t.Run(name, func(t *testing.T) {
			tx, err := p.db.BeginTx(t.Context(), nil)
			require.NoError(t, err)
			defer tx.Rollback()
			for _, script := range []string{unguarded, c.script} {
				_, err = tx.ExecContext(t.Context(), script)
				require.NoError(t, err)
			}
			var told []float64
			found, err := count.Check(t.Context(), inside{tx}, func(done float64) { told = append(told, done) })
			require.NoError(t, err)
			assert.IsIncreasing(t, told)
			if c.want == "" {
				assert.Empty(t, found)
				return
			}
			assert.Condition(t, func() bool {
				return slices.ContainsFunc(found, regexp.MustCompile("^"+c.want+"$").MatchString)
			}, "%v", found)
		})
	}
}
