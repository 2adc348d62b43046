package results_test

import (
	"cmp"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/product"
)

func scanLine(rows *sql.Rows) (line string, err error) {
	names, err := rows.Columns()
	if err != nil {
		return "", err
	}
	values := make([]any, len(names))
	for i := range values {
		values[i] = new(any)
	}
	err = rows.Scan(values...)
	for _, v := range values {
		line += fmt.Sprint(*v.(*any), " ")
	}
	return line, err
}

// Every query of the page runs on a practice store; those that are said to answer
// there do, without an empty column.
func TestPageQueriesAnswerOnAPracticeStore(t *testing.T) {
	s := simulatedLine(t, 3000)
	page, err := os.ReadFile("../docs/records.md")
	require.NoError(t, err)
	before, practice, found := strings.Cut(string(page), "\n### Lots, limits, jigs and times\n")
	require.True(t, found)
	blocks := regexp.MustCompile("(?s)```sql\n(.*?);\n```")
	for _, block := range blocks.FindAllStringSubmatch(before, -1) {
		for query := range strings.SplitSeq(block[1], ";") {
			raw(t, s, scanLine, query)
		}
	}
	promised := blocks.FindAllStringSubmatch(practice, -1)
	require.Len(t, promised, 6)
	for _, block := range promised {
		lines := raw(t, s, scanLine, block[1])
		require.NotEmpty(t, lines, block[1])
		for _, line := range lines {
			assert.NotContains(t, line, "<nil>", block[1])
		}
	}
}

// The lots of a run are those by which it was counted when it was stored, also
// where lots are changed on one jig and not the other, and for one product only.
func TestRunLotsAreThoseOfTheChangeovers(t *testing.T) {
	s := simulatedLine(t, 3000)
	counted := raw(t, s, scanLine, `
		SELECT run, lots FROM run_cell JOIN cell USING (cell) WHERE lots > 0 ORDER BY run`)
	require.Greater(t, len(counted), 1000)
	assert.Equal(t, counted, raw(t, s, scanLine, `SELECT DISTINCT seq, lot_change FROM run_lots ORDER BY seq`))
	assert.Equal(t,
		raw(t, s, scanLine, `SELECT run, membrane, board FROM run_cell JOIN cell USING (cell)
			JOIN lot_change ON lot_change.seq = lots ORDER BY run`),
		raw(t, s, scanLine, `SELECT m.seq, m.lot, b.lot FROM run_lots AS m JOIN run_lots AS b USING (seq)
			WHERE m.material = 'membrane' AND b.material = 'board' ORDER BY m.seq`))
	assert.Empty(t, raw(t, s, scanLine, `SELECT lot FROM run_lots WHERE material = 'dome'`), "no lot of domes was scanned")
}

// Limits in the view are those that the program judges by.
func TestKeyLimitsAreThoseOfTheProduct(t *testing.T) {
	for _, name := range []string{"gcc-20", "bay-16", "vent-6"} {
		p, err := product.Load(filepath.Join("../testdata/products", name+".yaml"))
		require.NoError(t, err)
		s, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "limits.sqlite"))
		require.NoError(t, err)
		for _, title := range []string{p.Title, "the same by another name"} {
			_, err = s.Runs.Save(t.Context(), runs.Revision{
				Code: p.Code, Title: title, Label: p.Revision, Hash: p.Hash(), Definition: p.Canonical(),
			}, sequence.Run{
				Serial: "V6-00001-X", Product: p.Code, Revision: p.Revision, Hash: p.Hash(),
				Attempt: 1, Outcome: sequence.Aborted, Reason: "the guard was opened", Started: time.Unix(1772435704, 0).UTC(),
			})
			require.NoError(t, err)
		}
		var want []string
		for i, k := range p.Keys {
			l := k.Limits
			volts := "<nil> <nil>"
			if k.Diode != product.NoDiode {
				volts = fmt.Sprint(float64(l.ForwardMin), " ", float64(l.ForwardMax))
			}
			want = append(want, fmt.Sprint(i+1, " ", k.Label, " ", p.Lines[k.A].Name, " ", p.Lines[k.B].Name, " ",
				cmp.Or(k.Group, "-"), " ", k.Actuator+1, " ", float64(l.ClosedMin), " ", float64(l.ClosedMax), " ",
				float64(l.RestMin), " ", l.Make.Seconds()*1e3, " ", l.Break.Seconds()*1e3, " ", volts, " ", l.Guard, " "))
		}
		assert.Equal(t, want, raw(t, s, scanLine, `
			SELECT place, key, line_a, line_b, iif("group" = '', '-', "group"), actuator, closed_min_ohm, closed_max_ohm,
			       rest_min_ohm, make_max_ms, break_max_ms, forward_min_volt, forward_max_volt, guard_u
			FROM key_limits ORDER BY place`), name)
		require.NoError(t, s.Close())
	}
}

// Keys and findings name the jig and the time of their run.
func TestKeysAndFindingsSayWhereAndWhen(t *testing.T) {
	s := simulatedLine(t, 1000)
	for _, view := range []string{"keys", "findings"} {
		assert.Positive(t, len(raw(t, s, scanLine, `SELECT seq FROM `+view)))
		assert.Empty(t, raw(t, s, scanLine, `SELECT * FROM `+view+` AS v JOIN runs USING (seq)
			WHERE v.jig <> runs.jig OR v.started <> runs.started OR v.place < 1`), view)
		assert.Equal(t, raw(t, s, scanLine, `SELECT sum(`+view+`) FROM run`), raw(t, s, scanLine, `SELECT count(*) FROM `+view))
	}
}
