package care

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"padjig/results/store"
	"padjig/sequence"
)

// Known is a jig that the records know.
type Known struct {
	Jig       sequence.JigName // as it last stated itself
	Simulated bool
	Tested    time.Time // its newest run was started; zero for none
	Product   string    // of its newest run of production; empty for none
	Made      *store.ID // that run
	// Definition tells its revision from others, however they are labelled.
	Definition string
}

// Jigs gives every jig of which there is a run, a calibration, a commissioning or a part, by serial number,
// real ones before simulated ones of the same. A serial number that both a real and a simulated
// jig of one make and firmware state is known as what its newest run was made on.
func (s *Records) Jigs(ctx context.Context) ([]Known, error) {
	var out []Known
	at := func(serial string, simulated bool) *Known {
		i := slices.IndexFunc(out, func(k Known) bool { return k.Jig.Serial == serial && k.Simulated == simulated })
		if i < 0 {
			i, out = len(out), append(out, Known{Jig: sequence.JigName{Serial: serial}, Simulated: simulated})
		}
		return &out[i]
	}
	err := s.db.Ask(ctx, "look up the jigs", func(tx *sql.Tx) error {
		err := newestRuns(ctx, tx, s.db.OfMany(), func(n newestRun) {
			k := at(n.jig.Serial, n.simulated)
			if !n.at.Before(k.Tested) {
				k.Jig, k.Tested = n.jig, n.at
			}
			if n.made != nil {
				k.Product, k.Made, k.Definition = n.product, n.made, n.definition
			}
		})
		if err != nil {
			return err
		}
		var jig sequence.JigName
		var simulated bool
		err = store.Visit(ctx, tx, func(rows *sql.Rows) error {
			err := rows.Scan(&jig.Serial, &jig.Model, &jig.Firmware, &jig.Adapter, &simulated)
			if k := at(jig.Serial, simulated); k.Tested.IsZero() {
				k.Jig = jig
			}
			return err
		}, `SELECT jig.serial, model, firmware, adapter, simulated FROM calibration JOIN jig USING (jig) ORDER BY after_run, seq`)
		if err != nil {
			return err
		}
		err = store.Visit(ctx, tx, func(rows *sql.Rows) error {
			err := rows.Scan(&jig.Serial, &jig.Model, &jig.Firmware, &simulated)
			if k := at(jig.Serial, simulated); k.Jig.Model == "" {
				k.Jig = sequence.JigName{Serial: jig.Serial, Model: jig.Model, Firmware: jig.Firmware}
			}
			return err
		}, `SELECT jig, model, firmware, simulated FROM commissioning ORDER BY after_run DESC, seq DESC`)
		if err != nil {
			return err
		}
		return store.Visit(ctx, tx, func(rows *sql.Rows) error {
			err := rows.Scan(&jig.Serial, &simulated)
			at(jig.Serial, simulated)
			return err
		}, `SELECT DISTINCT jig, simulated FROM wear_event WHERE simulated IS NOT NULL`)
	})
	slices.SortFunc(out, func(a, b Known) int {
		return cmp.Or(cmp.Compare(a.Jig.Serial, b.Jig.Serial), cmp.Compare(flag(a.Simulated), flag(b.Simulated)))
	})
	return out, err
}

func flag(is bool) int {
	if is {
		return 1
	}
	return 0
}

// newestRun is the newest run on a jig as it stated itself, and the newest one of production.
type newestRun struct {
	seq       int64
	jig       sequence.JigName
	simulated bool
	at        time.Time
	product   string
	made      *store.ID

	definition string // of the one of production, as product
}

// newestRuns tells of the newest run of each row of jigs, oldest first. Each is found by its
// index, however many runs there are: one for each way to press, of which the newest is that of the jig. At a plant, where runs lie
// month by month and each month would be looked into, the sums of the hours say it.
func newestRuns(ctx context.Context, tx *sql.Tx, ofMany bool, tell func(newestRun)) error {
	query, ways := newestByRun, []any{string(sequence.Mechanical), string(sequence.Hand), string(sequence.Electrical)}
	if ofMany {
		query, ways = newestByCell, nil
	}
	newest, made := map[int64]int64{}, map[int64]int64{} // number of a run by that of the jig
	var numbers []int64
	if err := store.Visit(ctx, tx, func(rows *sql.Rows) error {
		var jig int64
		var last, lastMade sql.NullInt64
		err := rows.Scan(&jig, &last, &lastMade)
		newest[jig], made[jig] = max(newest[jig], last.Int64), max(made[jig], lastMade.Int64)
		return err
	}, query, ways...); err != nil {
		return err
	}
	for jig := range newest {
		numbers = append(numbers, newest[jig], made[jig])
	}
	list, err := json.Marshal(numbers)
	if err != nil {
		return err
	}
	at := map[int64]runOfJig{}
	if err := store.Visit(ctx, tx, func(rows *sql.Rows) error {
		var n runOfJig
		err := rows.Scan(&n.seq, &n.id, &n.simulated, store.Time(&n.at), &n.jig.Serial, &n.jig.Model, &n.jig.Firmware, &n.jig.Adapter, &n.product, &n.definition)
		at[n.seq] = n
		return err
	}, `
		SELECT seq, run.id, simulated, started_us, jig.serial, model, firmware, adapter, code, revision.hash || label
		FROM run JOIN jig USING (jig) JOIN revision ON revision.revision = run.revision
		WHERE seq IN (SELECT CAST(value AS bigint) FROM json_each(?))`, string(list)); err != nil {
		return err
	}
	var all []newestRun
	for jig, seq := range newest {
		if seq == 0 {
			continue
		}
		n := at[seq].newestRun
		n.product, n.definition = "", "" // those of production
		if p, is := at[made[jig]]; is {
			n.product, n.made, n.definition = p.product, &p.id, p.definition
		}
		all = append(all, n)
	}
	slices.SortFunc(all, func(a, b newestRun) int { return cmp.Compare(a.seq, b.seq) })
	for _, n := range all {
		tell(n)
	}
	return nil
}

const (
	newestByRun = `
		SELECT jig.jig,
		       (SELECT seq FROM run WHERE run.jig = jig.jig AND run.actuation = way.actuation ORDER BY seq DESC LIMIT 1),
		       (SELECT seq FROM run WHERE run.jig = jig.jig AND run.actuation = way.actuation AND purpose = '' ORDER BY seq DESC LIMIT 1)
		FROM jig CROSS JOIN (SELECT ? AS actuation UNION ALL SELECT ? UNION ALL SELECT ? UNION ALL SELECT '') AS way`
	// A cell over reference units has runs of production, too.
	newestByCell = `
		SELECT jig.jig,
		       (SELECT last_run FROM cell WHERE cell.jig = jig.jig AND simulated = kind.simulated AND runs > 0 ORDER BY last_run DESC LIMIT 1),
		       (SELECT last_run FROM cell WHERE cell.jig = jig.jig AND simulated = kind.simulated AND runs > 0 AND purpose IN ('', 'reference')
		        ORDER BY last_run DESC LIMIT 1)
		FROM jig CROSS JOIN (SELECT 0 AS simulated UNION ALL SELECT 1) AS kind`
)

// runOfJig is a run with its id.
type runOfJig struct {
	newestRun
	id store.ID
}

// TestedSince counts the units of production that a jig tested after a run.
func (s *Records) TestedSince(ctx context.Context, jig string, simulated bool, run int64) (n int, err error) {
	err = s.db.Ask(ctx, fmt.Sprintf("count the units tested on jig %s", jig), func(tx *sql.Tx) error {
		return tx.QueryRowContext(ctx, `
			SELECT count(DISTINCT serial) FROM run
			WHERE jig IN (SELECT jig FROM jig WHERE serial = ?) AND seq > ? AND simulated = ? AND purpose = ''
			  AND NOT EXISTS (SELECT 1 FROM reference_check WHERE reference_check.run = run.seq)`, jig, run, simulated).Scan(&n)
	})
	return n, err
}
