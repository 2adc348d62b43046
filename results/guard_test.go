package results

import (
	"crypto/ed25519"
	"database/sql"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/results/backup"
	"padjig/results/care"
	"padjig/results/floor"
	"padjig/results/lines"
	"padjig/results/notices"
	"padjig/results/plant/notice"
	"padjig/results/runs/runstest"
	"padjig/results/stops"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/product"
)

func tables(t *testing.T, db *sql.DB) []string {
	t.Helper()
	names, err := store.Collect(t.Context(), db, store.ScanText,
		`SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name`)
	require.NoError(t, err)
	return names
}

func columns(t *testing.T, db *sql.DB, table string) []string {
	t.Helper()
	names, err := store.Collect(t.Context(), db, store.ScanText, `SELECT name FROM pragma_table_info(?)`, table)
	require.NoError(t, err)
	require.NotEmpty(t, names)
	return names
}

// contents is everything in the store, as text.
func contents(t *testing.T, db *sql.DB) map[string][]string {
	t.Helper()
	all := map[string][]string{}
	for _, table := range tables(t, db) {
		quoted := make([]string, 0, 8)
		for _, column := range columns(t, db, table) {
			quoted = append(quoted, fmt.Sprintf("quote(%q)", column))
		}
		rows, err := store.Collect(t.Context(), db, store.ScanText,
			"SELECT "+strings.Join(quoted, " || ',' || ")+" FROM "+table)
		require.NoError(t, err)
		all[table] = rows
	}
	return all
}

// sums are the tables that are no records.
var sums = []string{"cell", "cell_reading", "cell_finding", "run_cell", "span", "span_cell", "span_reading", "span_finding", "draft", "plant_contact"}

// lineKept stores one row of each kind that people write down about the line.
func lineKept(t *testing.T, s *Store) {
	t.Helper()
	require.NoError(t, s.Floor.SaveLots(t.Context(), floor.LotChange{
		Jig: "J-0007", Product: "GH-20", Lots: floor.Lots{"membrane": "M-1"}, By: "Ines"}))
	require.NoError(t, s.Floor.SaveZone(t.Context(), "Asia/Tokyo"))
	require.NoError(t, s.Floor.SaveShifts(t.Context(), floor.ShiftPlan{
		Zone: "Europe/Vienna", Shifts: []floor.Shift{{Name: "early", Begins: 360, Ends: 840}}, By: "Ines"}))
	require.NoError(t, s.Floor.SaveProductChange(t.Context(), floor.ProductChange{Jig: "J-0007", Before: "GH-20", Product: "CP-4", Given: "GH-20", By: "Ines"}))
	require.NoError(t, s.Floor.SaveHandover(t.Context(), floor.Handover{Shift: "early", Day: "2026-03-02", By: "Ines"}))
	require.NoError(t, s.Lines.SaveBaseline(t.Context(), lines.Baseline{
		Subject: "closed resistance of key 1", Selection: "product=GH-20", Points: 25, Limits: []byte(`{"centre":60}`),
		By: "Ines", Reason: "first month"}))
}

// stopKept has a unit be reseated too often, and lets it go on.
func stopKept(t *testing.T, s *Store) {
	t.Helper()
	run := runstest.Passed("24-000004")
	run.Outcome, run.Seats[0].Good = sequence.Reseat, false
	_, err := begin(t, s, run).Save(t.Context(), run)
	require.NoError(t, err)
	p := &product.Product{Code: "GH-20", Stops: product.Stops{Reseats: 1}}
	held, err := s.Stops.Holding(t.Context(), stops.Line{Jig: "J-0007", Product: "GH-20"}, p, "24-000004")
	require.NoError(t, err)
	require.Len(t, held, 1)
	_, err = s.Stops.Lift(t.Context(), held[0].Number, stops.Lifting{By: "Ines", Reason: stops.Cleaned})
	require.NoError(t, err)
}

// shippedRows records that a unit left, although it did not pass.
func shippedRows(t *testing.T, s *Store) {
	t.Helper()
	require.NoError(t, s.Floor.SaveShipment(t.Context(), []string{"24-000002"},
		floor.Shipment{Consignee: "Glasshouse North", Although: "agreed with the customer", By: "Ines"}))
}

// studyKept stores a gauge study and its first reading.
func studyKept(t *testing.T, s *Store) {
	t.Helper()
	study, err := s.Studies.PlanStudy(t.Context(), runstest.Climate(), pairStudy())
	require.NoError(t, err)
	id, err := s.Runs.Save(t.Context(), runstest.Climate(), studied(study, 0))
	require.NoError(t, err)
	require.NoError(t, s.Studies.AddReading(t.Context(), study.Number, 0, id))
}

// withdrawnRow stores a proposal that was taken back.
func withdrawnRow(t *testing.T, s *Store) {
	t.Helper()
	asked, err := s.Releases.Propose(t.Context(), releaseOf(t, padText("C", "400 ohm")))
	require.NoError(t, err)
	_, err = s.Releases.Withdraw(t.Context(), "CP-4", asked.Look(), "Ines", "agreed otherwise")
	require.NoError(t, err)
}

// noticed has the first notices of an office taken, and what came of them.
func noticed(t *testing.T, s *Store) {
	t.Helper()
	key := ed25519.NewKeyFromSeed(make([]byte, ed25519.SeedSize))
	office := openTemp(t)
	list, err := office.Notices.Issue(t.Context(), key, notices.Further{})
	require.NoError(t, err)
	head, err := office.Notices.Head(t.Context(), key)
	require.NoError(t, err)
	taker, err := s.Notices.Taker(t.Context(), []ed25519.PublicKey{notice.PublicOf(key)}, time.Hour)
	require.NoError(t, err)
	done, err := taker.Take(t.Context(), notices.Heard{Notices: list, Head: &head})
	require.NoError(t, err)
	require.Nil(t, done.Trouble)
}

// insulated is a run that failed, with its insulation.
func insulated(serial string) sequence.Run {
	run := runstest.Failed(serial)
	run.Insulation = proved("", fixture.Resistance{}, fixture.Resistance{}).Insulation
	return run
}

// Every way to change or remove a row is tried on every table there is, also
// from a connection without recursive triggers, where REPLACE deletes silently.
func TestAppendOnly(t *testing.T) {
	s := openTemp(t)
	for range 2 {
		id, err := s.Runs.Save(t.Context(), runstest.Climate(), insulated("24-000002"))
		require.NoError(t, err)
		require.NoError(t, s.Care.SaveReferenceCheck(t.Context(), care.ReferenceCheck{Run: id, Unit: "24-000002", Bad: true}))
	}
	require.NoError(t, s.Care.SaveWear(t.Context(), care.WearEvent{Jig: "J-0007", Part: care.Nest, Lot: "N-2", By: "Ines"}))
	stopKept(t, s)
	nestKept(t, s)
	shippedRows(t, s)
	returned(t, s)
	studyKept(t, s)
	calibrated(t, s)
	commissioned(t, s)
	lineKept(t, s)
	stationRows(t, s)
	withdrawnRow(t, s)
	leftUnfinished(t, s)
	placedRows(t, s)
	handedOff(t, s)
	noticed(t, s)
	require.NoError(t, s.Backups.Note(t.Context(), backup.Deed{Folder: "/mnt", Why: "no disk"}))
	careless := besides(t, s.Path(), "mode=rw&_foreign_keys=0&_recursive_triggers=0")
	defer careless.Close()
	before := contents(t, raw(s))
	require.Len(t, before, 72+len(sums))
	for _, table := range tables(t, raw(s)) {
		if slices.Contains(sums, table) {
			continue // counted from the runs, and compared with them by Check
		}
		require.NotEmpty(t, before[table], table)
		all := columns(t, raw(s), table)
		first := all[0]
		for _, attack := range []string{
			"UPDATE %[1]s SET %[2]q = %[2]q",
			"UPDATE OR REPLACE %[1]s SET %[2]q = %[2]q",
			"DELETE FROM %[1]s",
			"REPLACE INTO %[1]s (%[3]s) SELECT %[3]s FROM %[1]s LIMIT 1",
			"INSERT OR REPLACE INTO %[1]s (%[3]s) SELECT %[3]s FROM %[1]s ORDER BY 1 DESC LIMIT 1",
			"INSERT OR IGNORE INTO %[1]s (%[3]s) SELECT %[3]s FROM %[1]s LIMIT 1",
			"INSERT INTO %[1]s (%[3]s) SELECT %[3]s FROM %[1]s WHERE true ON CONFLICT DO UPDATE SET %[2]q = %[2]q",
		} {
			statement := fmt.Sprintf(attack, table, first, `"`+strings.Join(all, `", "`)+`"`)
			for name, db := range map[string]*sql.DB{"writer": raw(s), "careless": careless} {
				_, err := db.ExecContext(t.Context(), statement)
				assert.ErrorContains(t, err, "padjig: "+table+" is append-only", "%s: %s", name, statement)
			}
		}
	}
	assert.Equal(t, before, contents(t, raw(s)))
}

// A REPLACE under a new number would take the old row away by its other unique columns.
func TestReplaceByAnotherKey(t *testing.T) {
	s := openTemp(t)
	_, err := s.Runs.Save(t.Context(), runstest.Climate(), insulated("24-000002"))
	require.NoError(t, err)
	careless := besides(t, s.Path(), "mode=rw&_foreign_keys=0&_recursive_triggers=0")
	defer careless.Close()
	before := contents(t, raw(s))
	for _, table := range []string{"revision", "key", "pin", "step", "line_split", "jig", "station", "fault"} {
		rest := strings.Join(columns(t, raw(s), table)[1:], ", ")
		_, err := careless.ExecContext(t.Context(),
			fmt.Sprintf("REPLACE INTO %[1]s SELECT 1000 + %[1]s, %[2]s FROM %[1]s", table, rest))
		assert.ErrorContains(t, err, "append-only", table)
	}
	_, err = careless.ExecContext(t.Context(), `
		REPLACE INTO run
		SELECT 2, id, serial, revision, jig, station, simulated, actuation, operator, attempt, started_us, duration_us,
		       outcome, reason, saved_us, mono_ns, clock_synced, 0, 0, 0, 0, 0, hash, purpose, return_case, exercised, start, ended,
		       proofs, 0 FROM run`)
	assert.ErrorContains(t, err, "append-only")
	assert.Equal(t, before, contents(t, raw(s)))
}

// runRow inserts a bare run row with the counts and the outcome given.
func runRow(seq, keys int, outcome string) string {
	return fmt.Sprintf(`
		INSERT INTO run (
			seq, id, serial, revision, jig, station, simulated, actuation, operator,
			attempt, started_us, duration_us, outcome, reason, saved_us, mono_ns, clock_synced,
			steps, seats, keys, pairs, findings, hash)
		SELECT %d, randomblob(16), serial, revision, jig, station, simulated, actuation, operator,
		       attempt, started_us, duration_us, '%s', reason, saved_us, mono_ns, clock_synced, 0, 0, %d, 0, 0, hash
		FROM run WHERE seq = 1`, seq, outcome, keys)
}

func TestIncompleteRunsCannotBeWritten(t *testing.T) {
	s := openTemp(t)
	_, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000001"))
	require.NoError(t, err)
	key := func(run, place int, passed string) string {
		return fmt.Sprintf(`INSERT INTO run_key (run, place, key, passed) VALUES (%d, %d, 1, %s);`, run, place, passed)
	}
	for name, c := range map[string]struct{ script, want string }{
		"key missing": {key(2, 0, "1") + runRow(2, 2, "fail"), "a part of the run is missing"},
		"key too many": {
			key(2, 0, "1") + key(2, 1, "1") + runRow(2, 1, "fail"),
			"a part of the run is missing",
		},
		"key added later":   {key(1, 2, "1"), "append-only"},
		"run never written": {key(2, 0, "1"), "FOREIGN KEY"},
		"key never defined": {
			`INSERT INTO run_key (run, place, key) VALUES (2, 0, 99);` + runRow(2, 1, "fail"),
			"FOREIGN KEY",
		},
		"pass without a key": {runRow(2, 0, "pass"), "does not support a pass"},
		"pass with failed":   {key(2, 0, "0") + runRow(2, 1, "pass"), "does not support a pass"},
		"pass with untested": {key(2, 0, "NULL") + runRow(2, 1, "pass"), "does not support a pass"},
		"number left out":    {runRow(3, 0, "fail"), "append-only"},
		"outcome unknown":    {runRow(2, 0, "fine"), "CHECK"},
		"text as a number": {
			`INSERT INTO run_key (run, place, key, closed_mohm) VALUES (2, 0, 1, 'low')`,
			"cannot store TEXT",
		},
		"value unmarked": {
			`INSERT INTO run_key (run, place, key, closed_mohm) VALUES (2, 0, 1, 5)`,
			"CHECK",
		},
		"infinite value": {`INSERT INTO run_finding VALUES (2, 0, '', '', '', '[]', '[]', 9e999, 0, NULL, NULL, '', NULL, NULL)`,
			"CHECK"},
	} {
		t.Run(name, func(t *testing.T) {
			err := s.db.Update(t.Context(), func(tx *sql.Tx) error {
				_, err := tx.ExecContext(t.Context(), c.script)
				return err
			})
			assert.ErrorContains(t, err, c.want)
		})
	}
	require.NoError(t, s.db.Update(t.Context(), func(tx *sql.Tx) error {
		script := `SAVEPOINT sound;` + key(2, 0, "0") + runRow(2, 1, "fail") + `; ROLLBACK TO sound`
		_, err := tx.ExecContext(t.Context(), script)
		return err
	}), "the same with everything right is taken")
}
