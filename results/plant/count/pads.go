package count

import "strings"

// padsOf are the rows of run_pad of runs as their readings make them: of production, judged, with keys that were
// pressed. A key that is not good has none, since it reads what its fault makes it. {CHOSEN} chooses runs.
const padsOf = `
	SELECT revision, simulated, jig, run,
	       least(32767, max(CASE WHEN good THEN ceil(10000 * coalesce(closed_u_ohm, 0) / closed_ohm) ELSE 0 END))::smallint AS u,
	       string_agg(int2send(CASE WHEN good THEN greatest(-32767, least(32767, round(1000 * ln(closed_ohm)))) ELSE -32768 END::smallint), '' ORDER BY place) AS pad
	FROM (SELECT run.revision, run.simulated, run.jig, run_key.run, place, closed_ohm, closed_u_ohm,
	             coalesce(passed = 1 AND closed_at_least = 0 AND closed_ohm > 0, false) AS good
	      FROM run JOIN run_key ON run_key.run = run.seq
	      WHERE run.purpose = '' AND run.outcome IN ('pass', 'fail') AND run.actuation <> 'electrical'{CHOSEN}) AS read
	GROUP BY revision, simulated, jig, run HAVING count(*) FILTER (WHERE good) > 0`

// addPads keeps what each run of the batch read, in one row.
func (c *counting) addPads() error {
	from, to := span(c.batch)
	const chosen = ` AND run.seq = ANY(?1::bigint[]) AND run.seq BETWEEN ?2 AND ?3 AND run_key.run BETWEEN ?2 AND ?3`
	return c.exec(`INSERT INTO run_pad (revision, simulated, jig, run, u, pad) `+strings.ReplaceAll(padsOf, "{CHOSEN}", chosen)+`
		ORDER BY revision, simulated, jig, run ON CONFLICT DO NOTHING`, c.batch, from, to)
}

// wrongPads are runs whose row says something else than their readings, or is missing. Where readings are gone the row alone is left.
func wrongPads() string {
	return `SELECT 'what run ' || anew.run || ' read of its pad is not what its keys say'
		FROM (` + strings.ReplaceAll(padsOf, "{CHOSEN}", "") + `) AS anew LEFT JOIN run_pad USING (revision, simulated, jig, run)
		WHERE (anew.u, anew.pad) IS DISTINCT FROM (run_pad.u, run_pad.pad)`
}
