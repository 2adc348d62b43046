// Package view reads what only the records of many stations together can say: which stations
// there are and when each was last heard, which jig stands where, what stations read of the same
// reference unit, and where a unit was, station by station.
//
// What the rooms of a station answer (yields, jigs and what is due on them, suspects) is asked of
// those rooms over the same database; nothing of it is asked here again. A run says by its number
// which station it is of.
package view

import (
	"cmp"
	"context"
	"database/sql"
	"slices"
	"time"

	"padjig/results/plant/postgres"
	"padjig/results/store"
)

// Records are the records of a plant.
type Records struct{ db *store.DB }

// On gives those of a database with the tables of a plant.
func On(db *store.DB) *Records { return &Records{db} }

// Station is a station whose records come here.
type Station struct {
	Member int
	Name   string
	Since  time.Time // its records come here
	Heard  time.Time // runs of it, or its word of how it stands, came last, by the plant's clock; zero: none came yet
	Tested time.Time // its newest run was stored, by the plant's clock; zero for none
	Newest int64     // number of that run
	// Ahead is how far its clock was ahead of the plant's when that was measured last, within AheadU;
	// both 0 before.
	Ahead, AheadU time.Duration
	// Behind is how many runs it has that are not here, by its own word; nil where it says nothing of it.
	Behind  *int64
	Waiting int64     // rows of all tables, runs among them, likewise
	Oldest  time.Time // since when the oldest of these runs waits, by the plant's clock; zero: none does
	Notice  int64     // the newest of the plant's notices that it took (results/plant/board); of all there are [Station.Notices]
	Notices int64
	Stopped string // code of what its forwarding waits for a person for (results/plant/forward); empty: it goes on
	// Program is the version of padjig that it ran last, by its own word; empty before it said so.
	Program string
	Host    string
}

// Stations are all of them, by name.
func (r *Records) Stations(ctx context.Context) (list []Station, err error) {
	err = r.db.Ask(ctx, "look up the stations", func(tx *sql.Tx) error {
		list, err = store.Collect(ctx, tx, func(rows *sql.Rows) (s Station, err error) {
			var at, ahead, within, said, runs, oldest, saidAhead, saidWithin int64
			var version, host string
			err = rows.Scan(&s.Member, &s.Name, store.Time(&s.Since), &s.Newest, &at, &ahead, &within, &s.Program, &s.Host,
				&said, &runs, &s.Waiting, &oldest, &version, &host, &saidAhead, &saidWithin, &s.Notice, &s.Stopped, &s.Notices)
			if s.Newest > 0 {
				s.Tested = postgres.RunTime(s.Newest)
			}
			if at > 0 {
				s.Heard, s.Ahead, s.AheadU = time.UnixMicro(at).UTC(), store.FromMicro(ahead), store.FromMicro(within)
			}
			if said > 0 {
				s.says(said, runs, oldest, saidAhead, saidWithin, version, host)
			}
			return s, err
		}, `
			SELECT member.member, name, since_us, coalesce(newest.seq, 0), coalesce(clock.at_us, 0), coalesce(clock.ahead_us, 0),
			       coalesce(clock.uncertainty_us, 0), coalesce(ran.version, ''), coalesce(ran.host, ''),
			       coalesce(heartbeat.at_us, 0), coalesce(waiting_runs, 0), coalesce(waiting_rows, 0), coalesce(oldest_us, 0),
			       coalesce(heartbeat.version, ''), coalesce(heartbeat.host, ''), coalesce(heartbeat.ahead_us, 0),
			       coalesce(heartbeat.uncertainty_us, 0), coalesce(notice_taken.number, 0), coalesce(stopped, ''),
			       (SELECT coalesce(max(seq), 0) FROM notice)
			FROM member
			LEFT JOIN LATERAL (SELECT seq FROM run WHERE run.member = member.member ORDER BY local DESC LIMIT 1) AS newest ON true
			LEFT JOIN LATERAL (SELECT at_us, ahead_us, uncertainty_us FROM clock_offset WHERE clock_offset.member = member.member
			                   ORDER BY first_run DESC LIMIT 1) AS clock ON true
			LEFT JOIN LATERAL (SELECT version, host FROM program WHERE program.member = member.member ORDER BY local DESC LIMIT 1) AS ran ON true
			LEFT JOIN heartbeat ON heartbeat.member = member.member
			LEFT JOIN notice_taken ON notice_taken.member = member.member
			ORDER BY name`)
		return err
	})
	return list, err
}

// says takes what a station says of itself: how it stood at a time, by the plant's clock.
func (s *Station) says(at, runs, oldest, ahead, within int64, version, host string) {
	s.Behind = &runs
	if oldest > 0 {
		s.Oldest = time.UnixMicro(oldest).UTC()
	}
	if said := time.UnixMicro(at).UTC(); !said.Before(s.Heard) {
		s.Heard, s.Ahead, s.AheadU = said, store.FromMicro(ahead), store.FromMicro(within)
		s.Program, s.Host = cmp.Or(version, s.Program), cmp.Or(host, s.Host)
	}
}

// Jig is a jig, real or simulated, and the station at which it was last seen.
type Jig struct {
	Serial    string
	Simulated bool
}

// Places says at which station each jig was seen last: by its newest run, calibration or
// commissioning.
func (r *Records) Places(ctx context.Context) (map[Jig]string, error) {
	out := map[Jig]string{}
	err := r.db.Ask(ctx, "look up where the jigs are", func(tx *sql.Tx) error {
		names, err := namesIn(ctx, tx)
		if err != nil {
			return err
		}
		return store.Visit(ctx, tx, func(rows *sql.Rows) error {
			var jig Jig
			var seen int64
			err := rows.Scan(&jig.Serial, &jig.Simulated, &seen)
			out[jig] = names[postgres.MemberOf(seen)]
			return err
		}, `
			SELECT serial, simulated, max(seen) FROM (
				SELECT jig.serial, kind.simulated, newest.last_run AS seen
				FROM jig CROSS JOIN (VALUES (0), (1)) AS kind (simulated)
				JOIN LATERAL (SELECT last_run FROM cell WHERE cell.jig = jig.jig AND cell.simulated = kind.simulated AND runs > 0
				              ORDER BY last_run DESC LIMIT 1) AS newest ON true
				UNION ALL
				SELECT jig.serial, simulated, CASE WHEN after_run = 0 THEN member ELSE after_run END FROM calibration JOIN jig USING (jig)
				UNION ALL
				SELECT jig, simulated, CASE WHEN after_run = 0 THEN member ELSE after_run END FROM commissioning
			) AS places GROUP BY serial, simulated`)
	})
	return out, err
}

// Names are those of the stations, by their number.
func (r *Records) Names(ctx context.Context) (names map[int]string, err error) {
	err = r.db.Ask(ctx, "name the stations", func(tx *sql.Tx) error {
		names, err = namesIn(ctx, tx)
		return err
	})
	return names, err
}

// namesIn are the names of the stations by their number.
func namesIn(ctx context.Context, tx *sql.Tx) (map[int]string, error) {
	names := map[int]string{}
	return names, store.Visit(ctx, tx, func(rows *sql.Rows) error {
		var member int
		var name string
		err := rows.Scan(&member, &name)
		names[member] = name
		return err
	}, `SELECT member, name FROM member`)
}

// Reading is a key of a reference unit as a station read it.
type Reading struct {
	Unit, Station, Jig, Key string
	Run                     int64
	At                      time.Time
	Ohm, U                  float64 // U is its stated standard uncertainty
}

// References are the readings of good reference units in runs that were judged as checks of
// them, in order of time: also of checks that failed, since a station that drifted fails them. Of jigs that are real or simulated, from a time on; of one unit, or of all
// where none is named.
func (r *Records) References(ctx context.Context, unit string, simulated bool, from time.Time) (list []Reading, err error) {
	err = r.db.Ask(ctx, "look up what stations read of the reference units", func(tx *sql.Tx) error {
		names, err := namesIn(ctx, tx)
		if err != nil {
			return err
		}
		since := int64(0)
		if !from.IsZero() {
			since = postgres.RunNumber(0, from, 0)
		}
		list, err = store.Collect(ctx, tx, func(rows *sql.Rows) (one Reading, err error) {
			err = rows.Scan(&one.Unit, &one.Run, store.Time(&one.At), &one.Jig, &one.Key, &one.Ohm, &one.U)
			one.Station = names[postgres.MemberOf(one.Run)]
			return one, err
		}, `
			SELECT unit, run.seq, started_us, jig.serial, key.label, closed_ohm, coalesce(closed_u_ohm, 0)
			FROM reference_check JOIN run ON run.seq = reference_check.run JOIN jig USING (jig)
			JOIN run_key ON run_key.run = run.seq JOIN key ON key.key = run_key.key
			WHERE kind = 'good' AND run.simulated = ? AND (? = '' OR unit = ?) AND run.seq >= ?
			  AND closed_ohm > 0 AND closed_at_least = 0 AND actuation <> 'electrical'
			ORDER BY run.seq, run_key.place`, simulated, unit, unit, since)
		return err
	})
	return list, err
}

// Event is something that happened to a unit.
type Event struct {
	At               time.Time
	Station          string
	Kind             string // "tested", "not finished", "rework", "came back", "disposition", "shipped", "in stock", "placed", "override"
	What             string // the verdict, what was done, what was complained of
	Jig, Product, By string
	Detail           string
	Simulated        bool
	Run              int64 // its number, where a run is meant; else 0
	after            int64 // number of the run that it lies behind, its own for a run
	row              int64
}

// Life is what happened to a unit at all stations, in order: runs by the time at which they were
// stored, by the plant's clock, and the rest behind the run that was the newest of its station.
func (r *Records) Life(ctx context.Context, serial string) (list []Event, err error) {
	err = r.db.Ask(ctx, "look up the life of unit "+serial, func(tx *sql.Tx) error {
		names, err := namesIn(ctx, tx)
		if err != nil {
			return err
		}
		list, err = store.Collect(ctx, tx, func(rows *sql.Rows) (e Event, err error) {
			var member int
			err = rows.Scan(&e.Kind, &e.after, &e.row, &member, store.Time(&e.At), &e.What, &e.Jig, &e.Product, &e.By, &e.Detail, &e.Simulated)
			e.Station = names[member]
			if e.Kind == "tested" {
				e.Run = e.after
			}
			return e, err
		}, life, serial)
		return err
	})
	slices.SortStableFunc(list, func(a, b Event) int {
		return cmp.Or(cmp.Compare(a.after, b.after), a.At.Compare(b.At), cmp.Compare(a.row, b.row))
	})
	return list, err
}

const life = `
	SELECT 'tested', run.seq, 0, member, started_us, verdict, jig.serial, code, operator,
	       CASE WHEN purpose = '' THEN '' ELSE purpose END, simulated
	FROM run JOIN jig USING (jig) JOIN revision ON revision.revision = run.revision WHERE run.serial = ?1
	UNION ALL
	SELECT 'not finished', run_start.after_run, run_start.seq, run_start.member, started_us, '', jig.serial, code, operator, purpose, simulated
	FROM run_unfinished JOIN run_start ON run_start.seq = run_unfinished.start JOIN jig USING (jig)
	JOIN revision ON revision.revision = run_start.revision WHERE run_start.serial = ?1
	UNION ALL
	SELECT 'rework', after_run, seq, member, done_us, what, '', '', by, place, 0 FROM rework WHERE serial = ?1
	UNION ALL
	SELECT 'came back', return_case.after_run, return_intake.seq, return_intake.member, received_us, complaint, '', product, return_intake.by, customer, 0
	FROM return_case JOIN return_intake ON return_intake.return_case = return_case.seq WHERE return_case.serial = ?1
	UNION ALL
	SELECT 'disposition', coalesce(return_disposal.after_run, return_case.after_run), return_disposition.seq, return_disposition.member,
	       return_disposition.at_us, return_disposition.disposition, '', product, return_disposition.by, return_disposition.reason, 0
	FROM return_case JOIN return_disposition ON return_disposition.return_case = return_case.seq
	LEFT JOIN return_disposal ON return_disposal.disposition = return_disposition.seq WHERE return_case.serial = ?1
	UNION ALL
	SELECT kind, after_run, seq, member, at_us, consignee, '', '', by, CASE WHEN although <> '' THEN although ELSE note END, simulated
	FROM shipment WHERE serial = ?1
	UNION ALL
	SELECT 'placed', placement.after_run, placement.seq, placement.member, placement.at_us, coalesce(fail_place.name, how), jig.serial, code, placement.by, placement.reason, simulated
	FROM placement JOIN run ON run.seq = placement.run JOIN jig USING (jig) JOIN revision ON revision.revision = run.revision
	LEFT JOIN fail_place ON fail_place.seq = placement.place WHERE run.serial = ?1
	UNION ALL
	SELECT 'override', after_run, seq, member, at_us, what, jig, '', by, reason, 0 FROM override WHERE serial = ?1`

// FailedJigs are the jigs, real or simulated, that ever failed a verification, by serial number.
func (r *Records) FailedJigs(ctx context.Context, simulated bool) ([]string, error) {
	return store.List(ctx, r.db, "look up the jigs that failed a verification", store.ScanText, `
		SELECT DISTINCT jig.serial FROM calibration JOIN jig USING (jig)
		WHERE kind = 'verify' AND good = 0 AND simulated = ? ORDER BY jig.serial`, simulated)
}
