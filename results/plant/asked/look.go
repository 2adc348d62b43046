package asked

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"padjig/results/plant/postgres"
	"padjig/results/returns"
	"padjig/results/runs/elsewhere"
	"padjig/results/store"
	"padjig/sequence"
)

// Look asks what is known of a unit at other stations.
type Look func(ctx context.Context, serial string) (*elsewhere.Unit, error)

// ErrNoMember is a plant that does not know the station.
var ErrNoMember = errors.New("the plant knows no station of this name")

// errOther is an answer about another unit than was asked for, as something between may mix them up.
var errOther = errors.New("the answer is about another unit")

// At asks the database of a plant for what stations other than member know. It reads rows of this unit alone, by their
// indexes, in one question: what it says is of one moment.
func At(db *sql.DB, member string) Look {
	return func(ctx context.Context, serial string) (*elsewhere.Unit, error) {
		began := time.Now()
		rows, err := db.QueryContext(ctx, question, serial, member, returns.RepairLoop, postgres.RunTime(0).UnixMilli())
		if err != nil {
			return nil, err
		}
		defer rows.Close()
		r := reading{unit: &elsewhere.Unit{}}
		for rows.Next() {
			if err := r.take(rows); err != nil {
				return nil, err
			}
		}
		if err := rows.Err(); err != nil {
			return nil, err
		}
		middle := began.Add(time.Since(began) / 2)
		return r.at(serial, middle)
	}
}

// row is one of an answer, whatever it is about.
type row struct {
	kind, station     string
	at                int64 // µs, by the plant's clock
	product, label    string
	simulated         bool
	outcome           string
	attempt, findings int
	why               string
	id                []byte
	number            int64
	first, second     bool
}

// reading is an answer as it comes.
type reading struct {
	unit  *elsewhere.Unit
	now   int64 // of the plant
	about string
	known bool // the plant knows the station
}

func (r *reading) take(rows *sql.Rows) error {
	var v row
	if err := rows.Scan(&v.kind, &v.station, &v.at, &v.product, &v.label, &v.simulated, &v.outcome, &v.attempt, &v.findings, &v.why,
		&v.id, &v.number, &v.first, &v.second); err != nil {
		return err
	}
	return r.add(v)
}

// add takes a row in. One of a kind that nobody knows here is refused: half of an answer is none.
func (r *reading) add(v row) error {
	u, at := r.unit, time.UnixMicro(v.at)
	switch v.kind {
	case "now":
		r.now, r.about, r.known = v.at, v.label, v.first
	case "run":
		run := elsewhere.Run{
			Station: v.station, Product: v.product, Label: v.label, Simulated: v.simulated, Outcome: sequence.Outcome(v.outcome),
			Attempt: v.attempt, Findings: v.findings, Ended: sequence.Code(v.why), At: postgres.RunTime(v.number),
		}
		if len(v.id) != len(run.ID) {
			return fmt.Errorf("id of a run with %d bytes", len(v.id))
		}
		run.ID = store.ID(v.id)
		u.Runs = append(u.Runs, run)
	case "start":
		u.Starts = append(u.Starts, elsewhere.Start{
			Station: v.station, Jig: v.label, Product: v.product, Simulated: v.simulated, Actuation: sequence.Actuation(v.outcome),
			Attempt: v.attempt, At: at, Closed: v.first,
		})
	case "case":
		c := elsewhere.Case{Station: v.station, Number: v.number, Disposal: v.why, Back: v.why == returns.ToProduction, At: at, Real: v.first, Sim: v.second}
		c.Open = v.outcome == "" || v.outcome == returns.Reopened
		c.Back = c.Back && !c.Open
		u.Cases = append(u.Cases, c)
	case "rework":
		u.Reworks = append(u.Reworks, at)
	case "decided":
		u.Decided = append(u.Decided, at)
	default:
		return fmt.Errorf("the answer has a row %q", v.kind)
	}
	return nil
}

// at gives what was read with times by the clock of the station, at which it was so late in the middle of question and
// answer. A plant whose clock is wrong says wrong times, by as much as its own now is wrong.
func (r *reading) at(serial string, now time.Time) (*elsewhere.Unit, error) {
	switch {
	case r.about != serial:
		return nil, errOther
	case !r.known:
		return nil, ErrNoMember
	}
	ahead := time.UnixMicro(r.now).Sub(now)
	u := r.unit
	u.Serial = serial
	for i := range u.Runs {
		u.Runs[i].At = u.Runs[i].At.Add(-ahead)
	}
	for i := range u.Starts {
		u.Starts[i].At = u.Starts[i].At.Add(-ahead)
	}
	for i := range u.Cases {
		u.Cases[i].At = u.Cases[i].At.Add(-ahead)
	}
	for _, list := range [][]time.Time{u.Reworks, u.Decided} {
		for i := range list {
			list[i] = list[i].Add(-ahead)
		}
	}
	return u, nil
}

// question asks for everything at once. What a station dated by its own clock is brought to that of the plant, by how the
// station's stood when it last brought runs, and is no earlier than the run that was the newest of that station then. Runs are
// sought from the first to the last that the unit has, so that of all months only those are looked into.
const question = `
	WITH now AS (SELECT (extract(epoch FROM clock_timestamp()) * 1000000)::bigint AS us),
	other AS (
		SELECT member, name, coalesce((SELECT ahead_us FROM clock_offset WHERE clock_offset.member = member.member ORDER BY first_run DESC LIMIT 1), 0) AS ahead
		FROM member WHERE name <> ?2
	),
	span AS (SELECT min(first_run) AS first, max(last_run) AS last FROM unit WHERE serial = ?1),
	tested AS (
		SELECT run.seq, run.id, run.member, run.simulated, verdict, attempt, findings, ended, revision, purpose, return_case
		FROM run WHERE run.serial = ?1 AND run.seq >= (SELECT first FROM span) AND run.seq <= (SELECT last FROM span)
	),
	dated AS (
		SELECT 'rework' AS kind, member, at_us, after_run FROM rework WHERE serial = ?1
		UNION ALL SELECT 'decided', member, at_us, after_run FROM override WHERE serial = ?1 AND what = ?3
	)
	SELECT 'now', '', us, '', ?1::text, 0, '', 0, 0, '', NULL::bytea, 0, (SELECT count(*) FROM member WHERE name = ?2), 0 FROM now
	UNION ALL
	SELECT 'run', other.name, 0, code, revision.label, simulated, verdict, attempt, findings, coalesce(ended ->> '$[0]', ''), id, tested.seq, 0, 0
	FROM tested JOIN other USING (member) JOIN revision USING (revision) WHERE purpose = ''
	UNION ALL
	SELECT 'start', other.name, least(run_start.started_us - ahead, us), code, jig.serial, simulated, actuation, attempt, 0, '', NULL, run_start.seq,
	       CASE WHEN EXISTS (SELECT 1 FROM run_unfinished WHERE run_unfinished.start = run_start.seq) THEN 1 ELSE 0 END, 0
	FROM run_start JOIN other USING (member) JOIN revision USING (revision) JOIN jig USING (jig) CROSS JOIN now
	WHERE run_start.serial = ?1 AND purpose = '' AND NOT EXISTS (SELECT 1 FROM run WHERE run.start = run_start.seq)
	UNION ALL
	SELECT 'case', other.name,
	       least(greatest(coalesce(d.at_us, return_case.at_us) - ahead, (?4::bigint + (coalesce(disposal.after_run, return_case.after_run) >> 12)) * 1000), us),
	       product, '', 0, coalesce(d.disposition, ''), 0, 0, coalesce(disposal.disposal, ''), NULL, return_case.local,
	       CASE WHEN EXISTS (SELECT 1 FROM tested WHERE tested.return_case = return_case.seq AND tested.simulated = 0) THEN 1 ELSE 0 END,
	       CASE WHEN EXISTS (SELECT 1 FROM tested WHERE tested.return_case = return_case.seq AND tested.simulated = 1) THEN 1 ELSE 0 END
	FROM return_case JOIN other USING (member) CROSS JOIN now
	LEFT JOIN LATERAL (
		SELECT * FROM return_disposition WHERE return_disposition.return_case = return_case.seq ORDER BY seq DESC LIMIT 1
	) AS d ON true
	LEFT JOIN return_disposal AS disposal ON disposal.disposition = d.seq
	WHERE return_case.serial = ?1
	UNION ALL
	SELECT kind, other.name, least(greatest(at_us - ahead, (?4::bigint + (after_run >> 12)) * 1000), us), '', '', 0, '', 0, 0, '', NULL, 0, 0, 0
	FROM dated JOIN other USING (member) CROSS JOIN now
	ORDER BY 1, 12`
