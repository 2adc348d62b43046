// Package units finds units by a part of their serial number, among all that were ever
// tested or came back: what is on a torn label, or the end of a number that was read out.
package units

import (
	"context"
	"database/sql"
	"strings"
	"time"

	"padjig/results/store"
	"padjig/sequence"
)

// Records finds units.
type Records struct {
	db     *store.DB
	lately int // so many runs, the last ones, are looked at first
}

// On finds them in a database.
func On(db *store.DB) *Records { return &Records{db, 1000} }

// Unit is one that was found, with its last run. One that came back and was never tested
// here has none: its Run is empty.
type Unit struct {
	Serial    string
	Product   string // code
	Revision  string // label
	Simulated bool
	Run       store.ID
	Purpose   sequence.Purpose
	Outcome   sequence.Outcome // verdict of that run
	At        time.Time        // of that run; of the case where there is none
	Case      int64            // the returns case that is open, 0 for none
}

// Find gives up to n units whose serial number holds a text, letters large or small, those
// tested last first; more says whether there are others. What many units have is found among
// the last runs; for what few have, the serial numbers are gone through in the index
// run_serial, which holds them all and nothing else. What it takes is in docs/station.md (BenchmarkFind).
func (s *Records) Find(ctx context.Context, part string, n int) (found []Unit, more bool, err error) {
	part = strings.TrimSpace(part)
	if part == "" || len(part) > longest || strings.Contains(part, "\x00") {
		return nil, false, nil
	}
	holds := "%" + itself.Replace(small(part)) + "%"
	found, err = store.List(ctx, s.db, "find units", scan, query, holds, n+1, s.lately)
	if len(found) > n {
		return found[:n], true, err
	}
	return found, false, err
}

// longest is more bytes than any number has (product.Serial allows 64), and few enough for a
// pattern: SQLite refuses one of more than 50,000.
const longest = 1000

// itself has what means something in a pattern mean itself. A sign of no value is refused
// before: a pattern would end there.
var itself = strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`)

// small makes A to Z small, and nothing else, as lower does in the query.
func small(part string) string {
	return strings.Map(func(r rune) rune {
		if 'A' <= r && r <= 'Z' {
			r += 'a' - 'A'
		}
		return r
	}, part)
}

// The query looks at the late runs first. Where they show as many units as are asked for, those are
// the ones tested last of all, and nothing else is gone through: no number is above NULL, and PostgreSQL, which may take another index than
// that of the numbers, sees by the condition behind it that there is nothing to do. Else all
// serial numbers are, and those of returns cases where there is still room. Letters are compared small, those of a to z alone.
const query = `
	WITH late AS MATERIALIZED (
	  SELECT serial, max(seq) AS seq FROM run NOT INDEXED
	  WHERE seq > coalesce((SELECT seq FROM run WHERE seq > 0 ORDER BY seq DESC LIMIT 1 OFFSET ?3), 0) AND lower(serial) LIKE ?1 ESCAPE '\' GROUP BY serial ORDER BY 2 DESC LIMIT ?2
	), ever AS (
	  SELECT serial, max(seq) AS seq FROM run INDEXED BY run_serial
	  WHERE serial > (SELECT CASE WHEN count(*) < ?2 THEN '' END FROM late) AND lower(serial) LIKE ?1 ESCAPE '\' AND (SELECT count(*) < ?2 FROM late)
	  GROUP BY serial ORDER BY 2 DESC LIMIT ?2
	), tested AS (
	  SELECT serial, seq FROM ever UNION ALL SELECT serial, seq FROM late WHERE NOT EXISTS (SELECT 1 FROM ever)
	), came AS (
	  SELECT DISTINCT serial FROM return_case INDEXED BY return_case_serial
	  WHERE serial > (SELECT CASE WHEN count(*) < ?2 THEN '' END FROM tested) AND lower(serial) LIKE ?1 ESCAPE '\'
	  AND NOT EXISTS (SELECT 1 FROM run WHERE run.serial = return_case.serial) ORDER BY serial LIMIT ?2
	), found AS (
	  SELECT serial, seq, (SELECT max(seq) FROM return_case WHERE return_case.serial = unit.serial) AS number
	  FROM (SELECT serial, seq FROM tested UNION ALL SELECT serial, NULL FROM came) AS unit
	  ORDER BY 2 DESC NULLS LAST, 1 LIMIT ?2
	)
	SELECT found.serial, coalesce(revision.code, return_case.product), coalesce(revision.label, ''), coalesce(run.simulated, 0), coalesce(run.id, zeroblob(16)),
	       coalesce(run.purpose, ''), coalesce(run.verdict, ''), coalesce(run.started_us, return_case.at_us),
	       CASE coalesce((SELECT disposition FROM return_disposition AS d WHERE d.return_case = found.number ORDER BY d.seq DESC LIMIT 1), 'reopened')
	         WHEN 'reopened' THEN coalesce(found.number, 0) ELSE 0 END
	FROM found LEFT JOIN run ON run.seq = found.seq LEFT JOIN revision USING (revision) LEFT JOIN return_case ON return_case.seq = found.number
	ORDER BY found.seq DESC NULLS LAST, found.serial`

func scan(rows *sql.Rows) (u Unit, err error) {
	return u, rows.Scan(&u.Serial, &u.Product, &u.Revision, &u.Simulated, &u.Run, &u.Purpose, &u.Outcome, store.Time(&u.At), &u.Case)
}
