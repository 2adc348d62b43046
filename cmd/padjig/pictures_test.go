package main

import (
	"database/sql"
	"encoding/xml"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/site/picture"
	"padjig/results"
	"padjig/results/returns"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/wording"
)

// TestPicturesOfTheDocs draws the pictures of docs/pictures from what they show; with -update they are written. Each has
// a title and a description, and stands on a page.
func TestPicturesOfTheDocs(t *testing.T) {
	pad, err := product.Load(gcc)
	require.NoError(t, err)
	facts := wording.Facts()["en"]
	var steps [][2]string
	for _, s := range (returns.Case{Intakes: make([]returns.Intake, 1)}).Steps(nil) {
		about := map[returns.StepName]string{
			returns.StepIntake: "desk.next.seen", returns.StepPhoto: "desk.next.photo",
			returns.StepName(sequence.FirstPress): "desk.next.first press", returns.StepName(sequence.ReturnTest): "desk.next.return test",
			returns.StepName(sequence.Exercise): "desk.next.exercise",
		}[s.Name]
		said := facts[about]
		switch s.Name {
		case returns.StepIntake:
			said = "what can be seen, and what the customer said"
		case returns.StepDiagnosis:
			said = "causes with a place, and the next check"
		case returns.StepEnd:
			said = facts["desk.next.dispose"]
		}
		steps = append(steps, [2]string{string(s.Name), said})
	}
	for name, made := range map[string][]byte{
		"overview.svg": picture.Overview(), "pad-gcc-20.svg": picture.Pad(pad), "matrix-guard.svg": picture.Guard(pad, "5"),
		"returns-stages.svg": picture.Stages(steps), "tables.svg": picture.Tables(tablesOfTheRecords(t), "run"),
	} {
		path := filepath.Join("../../docs/pictures", name)
		if *update {
			require.NoError(t, os.WriteFile(path, made, 0o644))
		}
		kept, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, string(made), string(kept), "go test ./cmd/padjig -run PicturesOfTheDocs -update")
		assert.Regexp(t, `(?s)<title id="t">.{10,}</title>.*<desc id="d">.{40,}</desc>.*prefers-color-scheme:dark`, string(made), name)
		for d := xml.NewDecoder(strings.NewReader(string(made))); err != io.EOF; {
			if _, err = d.Token(); err != io.EOF {
				require.NoError(t, err, name)
			}
		}
		shown := false
		for _, text := range manualPages(t) {
			shown = shown || strings.Contains(text, "pictures/"+name)
		}
		assert.True(t, shown, "%s is on no page", name)
	}
}

// tablesOfTheRecords asks new records for their tables.
func tablesOfTheRecords(t *testing.T) (all []picture.Table) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "records.sqlite")
	store, err := results.Open(t.Context(), path)
	require.NoError(t, err)
	require.NoError(t, store.Close())
	db, err := sql.Open("sqlite3", path)
	require.NoError(t, err)
	defer db.Close()
	rows, err := db.Query(`SELECT m.name, coalesce(group_concat(DISTINCT f."table"), '') FROM sqlite_master m
		LEFT JOIN pragma_foreign_key_list(m.name) f WHERE m.type = 'table' GROUP BY m.name ORDER BY m.name`)
	require.NoError(t, err)
	defer rows.Close()
	for rows.Next() {
		var name, refers string
		require.NoError(t, rows.Scan(&name, &refers))
		all = append(all, picture.Table{Name: name, Refers: strings.FieldsFunc(refers, func(r rune) bool { return r == ',' })})
	}
	require.NoError(t, rows.Err())
	require.Greater(t, len(all), 30)
	return all
}
