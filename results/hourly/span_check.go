package hourly

import (
	"context"
	"database/sql"
	"fmt"

	"padjig/results/store"
)

// SpanRules ask for spans whose counts are not those of their cells, in sentences that SQLite and PostgreSQL understand. many is a
// plant, whose cells are of one station each.
func SpanRules(many bool) []string {
	member := ""
	if many {
		member = ", member"
	}
	const keys = "span.span, revision, jig, actuation, simulated, purpose, shift * detail AS shift, lots * detail AS lots, CASE detail WHEN 1 THEN operator ELSE '' END AS operator"
	const of = "cell JOIN span ON cell.hour >= span.begins AND cell.hour < span.ends"
	grouped := "span.span, revision, jig, actuation, simulated, purpose, shift * detail, lots * detail, CASE detail WHEN 1 THEN operator ELSE '' END" + member
	using := "span, revision, jig, actuation, simulated, purpose, shift, lots, operator" + member
	return []string{`
		WITH anew AS (SELECT ` + keys + member + `, min(first_run) AS first_run, max(last_run) AS last_run, sum(runs) AS runs, sum(reseat) AS reseat,
			sum(incomplete) AS incomplete, sum(aborted) AS aborted, sum(units) AS units, sum(first_passed) AS first_passed, sum(last_passed) AS last_passed,
			sum(retests) AS retests, sum(cures) AS cures, sum(relapses) AS relapses
			FROM ` + of + ` WHERE cell.runs <> 0 GROUP BY ` + grouped + `),
		there AS (SELECT * FROM span_cell WHERE span IN (SELECT span FROM span))
		SELECT DISTINCT 'the counts of span ' || span || ' are not those of its cells' FROM there FULL JOIN anew USING (` + using + `)
		WHERE (there.first_run, there.last_run, there.runs, there.reseat, there.incomplete, there.aborted, there.units, there.first_passed,
		       there.last_passed, there.retests, there.cures, there.relapses) IS DISTINCT FROM
		      (anew.first_run, anew.last_run, anew.runs, anew.reseat, anew.incomplete, anew.aborted, anew.units, anew.first_passed,
		       anew.last_passed, anew.retests, anew.cures, anew.relapses)`, `
		WITH anew AS (SELECT ` + keys + member + `, fault, sum(f.units) AS units, sum(f.worst) AS worst, sum(f.runs) AS runs
			FROM ` + of + ` JOIN cell_finding AS f ON f.cell = cell.cell WHERE cell.runs <> 0 GROUP BY ` + grouped + `, fault),
		there AS (SELECT ` + using + `, fault, f.units, f.worst, f.runs FROM span_cell JOIN span_finding AS f ON f.span_cell = span_cell.span_cell
			WHERE span IN (SELECT span FROM span))
		SELECT DISTINCT 'the findings of span ' || span || ' are not those of its cells' FROM there FULL JOIN anew USING (` + using + `, fault)
		WHERE (there.units, there.worst, there.runs) IS DISTINCT FROM (anew.units, anew.worst, anew.runs)`,
		`SELECT 'span ' || a.span || ' and span ' || b.span || ' sum up the same hours' FROM span AS a JOIN span AS b
		 ON a.level = b.level AND a.detail = b.detail AND a.span < b.span AND a.begins < b.ends AND b.begins < a.ends`,
	}
}

// WrongReadings sums up the readings of each span anew and says where they are others. The order of the keys does not count.
func (m Maker) WrongReadings(ctx context.Context, tx *sql.Tx) (found []string, err error) {
	spans, err := store.Collect(ctx, tx, scanSpan, `SELECT span, level, detail, begins, ends FROM span ORDER BY span`)
	for _, s := range spans {
		if err != nil {
			break
		}
		there, anew := map[int64]*Histograms{}, map[int64]*Histograms{}
		from := source{"cell", "cell_reading", "cell_finding", "", []any{s.Begins, s.Ends}}
		err = m.eachReading(ctx, tx, s.Number, m.belongs(s.Detail), from, merged(anew))
		if err == nil {
			err = store.Visit(ctx, tx, func(rows *sql.Rows) error {
				var of int64
				var packed sql.RawBytes
				if err := rows.Scan(&of, &packed); err != nil {
					return err
				}
				return merged(there)(of, packed)
			}, `SELECT span_cell, packed FROM span_cell JOIN span_reading USING (span_cell) WHERE span = ?`, s.Number)
		}
		same := len(there) == len(anew)
		for row, sums := range anew {
			same = same && there[row] != nil && sums.Equal(there[row])
		}
		if !same && err == nil {
			found = append(found, fmt.Sprintf("the readings of span %d are not those of its cells", s.Number))
		}
	}
	return found, err
}

// merged puts histograms together in a map.
func merged(sums map[int64]*Histograms) func(int64, []byte) error {
	return func(of int64, packed []byte) error {
		if sums[of] == nil {
			sums[of] = new(Histograms)
		}
		return sums[of].Merge(packed)
	}
}
