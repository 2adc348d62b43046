package results

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/results/care"
	"padjig/results/lines"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
)

func recordsPage(t *testing.T) string {
	t.Helper()
	page, err := os.ReadFile("../docs/records.md")
	require.NoError(t, err)
	return string(page)
}

// The page names every view and table with all of their columns.
func TestPageNamesEveryColumn(t *testing.T) {
	s := openTemp(t)
	page := recordsPage(t)
	names, err := store.Collect(t.Context(), raw(s), store.ScanText,
		`SELECT name FROM sqlite_schema WHERE type IN ('table', 'view') AND name NOT LIKE 'sqlite_%'`)
	require.NoError(t, err)
	require.Len(t, names, 121)
	for _, name := range names {
		described := section(page, name)
		require.NotEmpty(t, described, "%s is not described", name)
		for _, column := range columns(t, raw(s), name) {
			assert.Contains(t, described, "`"+column+"`", "column of %s", name)
		}
	}
}

// section is the part of the page under a view's heading, or a table's entry in the list.
func section(page, name string) string {
	if _, after, ok := strings.Cut(page, "### `"+name+"`"); ok {
		text, _, _ := strings.Cut(after, "\n#")
		return text
	}
	_, after, _ := strings.Cut(page, "\n- `"+name+"`, ")
	text, _, _ := strings.Cut(after, ".\n")
	return text
}

// Every query of the page up to those for a practice store runs as it stands, and
// finds something.
func TestPageQueries(t *testing.T) {
	s := openTemp(t)
	_, err := s.Runs.Save(t.Context(), runstest.Climate(), proved("24-000002", fixture.Resistance{Value: 5e7, U: 1e5}, fixture.Resistance{Value: 1e9}))
	require.NoError(t, err)
	_, err = s.Runs.Save(t.Context(), runstest.Climate(), runstest.Failed("24-000001"))
	require.NoError(t, err)
	returned(t, s)
	calibrated(t, s)
	page, _, _ := strings.Cut(recordsPage(t), "\n### Lots, limits, jigs and times\n")
	queries := regexp.MustCompile("(?s)```sql\n(.*?)```").FindAllStringSubmatch(page, -1)
	require.GreaterOrEqual(t, len(queries), 9)
	for _, block := range queries {
		for query := range strings.SplitSeq(strings.TrimSpace(block[1]), ";") {
			if strings.TrimSpace(query) == "" {
				continue
			}
			rows, err := raw(s).Query(query)
			require.NoError(t, err, query)
			assert.True(t, rows.Next(), query)
			require.NoError(t, rows.Close())
		}
	}
}

// The page's first-pass yield is that of Yields: units of production only, and
// each once.
func TestPageYieldIsThatOfYields(t *testing.T) {
	s := openTemp(t)
	for _, run := range []sequence.Run{runstest.Passed("24-000002"), runstest.Failed("24-000001"), runstest.Passed("24-000001"), runstest.Passed("REF-G"), runstest.Failed("REF-B")} {
		id, err := s.Runs.Save(t.Context(), runstest.Climate(), run)
		require.NoError(t, err)
		if unit := run.Serial; strings.HasPrefix(unit, "REF-") {
			require.NoError(t, s.Care.SaveReferenceCheck(t.Context(), care.ReferenceCheck{Run: id, Unit: unit, Bad: unit == "REF-B"}))
		}
	}
	_, query, found := strings.Cut(recordsPage(t), "First-pass yield:")
	require.True(t, found)
	_, query, _ = strings.Cut(query, "```sql\n")
	query, _, _ = strings.Cut(query, "```")
	var product string
	var units int
	var share float64
	require.NoError(t, raw(s).QueryRow(query).Scan(&product, &units, &share))
	y, err := s.Lines.Yields(t.Context(), lines.Filter{})
	require.NoError(t, err)
	assert.Equal(t, 2, y.Total.Units)
	assert.Equal(t, y.Total.Units, units, "reference units are no production")
	assert.InDelta(t, float64(y.Total.FirstPassed)/float64(y.Total.Units), share, 1e-12)
}

func TestViewsSpeakOhms(t *testing.T) {
	s := openTemp(t)
	_, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000001"))
	require.NoError(t, err)
	lines, err := store.Collect(t.Context(), raw(s), store.ScanText, `
		SELECT concat_ws(' ', key, line_a, line_b, verdict, closed_ohm, closed_u_ohm, make_ms, make_count, forward_volt)
		FROM keys ORDER BY place`)
	require.NoError(t, err)
	assert.Equal(t, []string{"1 R1 C1 pass 118.204 0.35 1.25 3", "2 R1 C2 pass 97.5 0.3 0.612345"}, lines)
	var started, run string
	require.NoError(t, raw(s).QueryRow(`SELECT started, run FROM runs`).Scan(&started, &run))
	assert.Equal(t, "2026-03-02T07:15:04.123456Z", started)
	stored, err := s.Runs.Unit(t.Context(), "24-000001")
	require.NoError(t, err)
	assert.Equal(t, stored[0].ID.String(), run)
}
