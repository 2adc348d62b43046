package results

import (
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/results/lines"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
)

// domed is a run over a keypad with metal domes: contacts and loops of a few milliohm, known to
// a fraction of one.
func domed(serial string) sequence.Run {
	run := runstest.Passed(serial)
	run.Seats[0].Loop = fixture.Resistance{Value: 0.004567, U: 0.00031}
	run.Keys[0].Closed = &fixture.Resistance{Value: 0.0123456, U: 0.0002}
	run.Keys[1].Closed = &fixture.Resistance{Value: 0.0004, U: 4e-7}
	return run
}

// A contact of a few milliohm and what is not known of it are kept to the microohm: in whole
// milliohm u of 0.2 would be 1, five times as much, and every reading of a dome the same number.
func TestContactsAreKeptToTheMicroohm(t *testing.T) {
	s := openTemp(t)
	_, err := s.Runs.Save(t.Context(), runstest.Climate(), domed("24-000001"))
	require.NoError(t, err)
	got, err := s.Runs.Unit(t.Context(), "24-000001")
	require.NoError(t, err)
	want := domed("24-000001")
	want.Keys[0].Closed.Value, want.Keys[1].Closed.U = 0.012346, 1e-6 // never down to none
	assert.Equal(t, want, got[0].Run)

	var text string
	require.NoError(t, raw(s).QueryRow(`SELECT group_concat(closed_ohm || ' ' || closed_u_ohm, ', ') FROM keys`).Scan(&text))
	assert.Equal(t, "0.012346 0.0002, 0.0004 1.0e-06", text, "for people with a shell")
	require.NoError(t, raw(s).QueryRow(`SELECT group_concat(loop_ohm || ' ' || loop_u_ohm, ', ') FROM seats`).Scan(&text))
	assert.Contains(t, text, "0.004567 0.00031")
	for measure, want := range map[lines.Measure][2]float64{lines.Contact: {0.012346, 0.0002}, lines.Loop: {0.004567, 0.00031}} {
		series, err := s.Lines.Readings(t.Context(), lines.Filter{}, measure, nil, 0)
		require.NoError(t, err)
		assert.Equal(t, want, [2]float64{series.Points[0].Value, series.Points[0].U}, measure)
	}
	require.NoError(t, s.Lines.Export(t.Context(), lines.Filter{}, func(r lines.ExportRow) error {
		if r.Key == "1" {
			assert.Equal(t, [2]float64{0.012346, 0.0002}, [2]float64{*r.Closed, *r.ClosedU})
		}
		return nil
	}, nil))
}

// What was rounded off is part of the record: whoever changes it is found, and rows that cannot
// be are refused.
func TestWhatIsBelowAMilliohmIsGuarded(t *testing.T) {
	path := t.TempDir() + "/padjig.db"
	s, err := OpenWith(t.Context(), path, testSeams())
	require.NoError(t, err)
	defer s.Close()
	_, err = s.Runs.Save(t.Context(), runstest.Climate(), domed("24-000001"))
	require.NoError(t, err)
	for column, bad := range map[string][]string{
		"closed_rest_uohm": {"501", "-501", "0", "0.5"}, "closed_u_rest_uohm": {"-1000", "501", "0"},
	} {
		for _, value := range bad {
			_, err := raw(s).Exec(`INSERT INTO run_key (run, place, key, closed_mohm, closed_u_mohm, closed_at_least, ` + column +
				`) VALUES (2, 0, 1, 5, 1, 0, ` + value + `)`)
			assert.Error(t, err, "%s of %s", column, value)
		}
		_, err = raw(s).Exec(`INSERT INTO run_key (run, place, key, closed_at_least, ` + column + `) VALUES (2, 0, 1, 1, 5)`)
		assert.Error(t, err, "%s of no reading", column)
	}
	_, err = raw(s).Exec(`UPDATE run_key SET closed_u_rest_uohm = NULL`)
	assert.ErrorContains(t, err, "append-only")
	faults, err := s.Check(t.Context())
	require.NoError(t, err)
	require.Empty(t, faults)
	forge(t, path, `UPDATE run_key SET closed_u_rest_uohm = closed_u_rest_uohm + 1 WHERE place = 0`)
	faults, err = s.Check(t.Context())
	require.NoError(t, err)
	assert.Contains(t, strings.Join(faults, "\n"), "run 1 (unit 24-000001) is not what was stored")
}

// A store of the version before is brought up to date: its runs read as they did and keep their
// hashes, new ones stand beside them. The program of before refuses it then.
func TestRunsInWholeMilliohmStayAsTheyWere(t *testing.T) {
	path := before(t, 28, "runs28.sql")
	s := openChecked(t, path, testSeams()) // recomputes every hash when it closes
	got, err := s.Runs.Unit(t.Context(), "24-000001")
	require.NoError(t, err)
	want := domed("24-000001")
	want.Seats[0].Loop = fixture.Resistance{Value: 0.005, U: 0.001}
	want.Keys[0].Closed = &fixture.Resistance{Value: 0.012, U: 0.001}
	want.Keys[1].Closed = &fixture.Resistance{Value: 0, U: 0.001}
	assert.Equal(t, want, got[0].Run)
	_, err = s.Runs.Save(t.Context(), runstest.Climate(), domed("24-000002"))
	require.NoError(t, err)
	faults, err := s.Check(t.Context())
	require.NoError(t, err)
	assert.Empty(t, faults)

	_, err = OpenWith(t.Context(), path, without(t, 29))
	assert.ErrorIs(t, err, store.ErrNewer)
}

// before is a store of a version, with runs that the program of that version stored.
func before(t *testing.T, version int, runs string) (path string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "padjig.db")
	s, err := OpenWith(t.Context(), path, without(t, version+1))
	require.NoError(t, err)
	require.NoError(t, s.Close())
	script, err := os.ReadFile(filepath.Join("testdata", runs))
	require.NoError(t, err)
	db := besides(t, path, "mode=rw")
	defer db.Close()
	_, err = db.Exec("BEGIN;" + string(script) + "COMMIT")
	require.NoError(t, err)
	return path
}

// without is the program as it was before a migration.
func without(t *testing.T, version int) store.Dependencies {
	t.Helper()
	files := fstest.MapFS{}
	names, err := fs.Glob(store.Real().Migrations, "*.sql")
	require.NoError(t, err)
	for _, name := range names[:version-1] {
		content, err := fs.ReadFile(store.Real().Migrations, name)
		require.NoError(t, err)
		files[name] = &fstest.MapFile{Data: content}
	}
	with := testSeams()
	with.Migrations = files
	return with
}
