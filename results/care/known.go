package care

import (
	"cmp"
	"context"
	"database/sql"
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
		err := newestRuns(ctx, tx, func(n newestRun) {
			k := at(n.jig.Serial, n.simulated)
			if !n.at.Before(k.Tested) {
				k.Jig, k.Tested = n.jig, n.at
			}
			if n.made != nil {
				k.Product, k.Made = n.product, n.made
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
}

// newestRuns tells of the newest run of each row of jigs, oldest first. Each is found by its
// index, however many runs there are.
func newestRuns(ctx context.Context, tx *sql.Tx, tell func(newestRun)) error {
	jigs, err := store.Collect(ctx, tx, store.ScanInt, `SELECT jig FROM jig`)
	if err != nil {
		return err
	}
	var all []newestRun
	for _, jig := range jigs {
		n, err := newestRunOf(ctx, tx, jig)
		if err != nil {
			return err
		}
		if n.seq > 0 {
			all = append(all, n)
		}
	}
	slices.SortFunc(all, func(a, b newestRun) int { return cmp.Compare(a.seq, b.seq) })
	for _, n := range all {
		tell(n)
	}
	return nil
}

func newestRunOf(ctx context.Context, tx *sql.Tx, jig int64) (n newestRun, err error) {
	var last int64 // of production
	for _, actuation := range []sequence.Actuation{sequence.Mechanical, sequence.Hand, sequence.Electrical, ""} {
		for _, made := range []bool{false, true} {
			var one newestRun
			var id store.ID
			found, err := store.RowOf(ctx, tx, `
				SELECT seq, run.id, simulated, started_us, jig.serial, model, firmware, adapter, code
				FROM run JOIN jig USING (jig) JOIN revision ON revision.revision = run.revision
				WHERE run.jig = ? AND actuation = ? AND (? = 0 OR purpose = '') ORDER BY seq DESC LIMIT 1`,
				[]any{jig, string(actuation), made}, &one.seq, &id, &one.simulated, store.Time(&one.at),
				&one.jig.Serial, &one.jig.Model, &one.jig.Firmware, &one.jig.Adapter, &one.product)
			switch {
			case err != nil:
				return n, err
			case !found:
			case made && one.seq > last:
				last, n.product, n.made = one.seq, one.product, &id
			case !made && one.seq > n.seq:
				one.product, one.made = n.product, n.made
				n = one
			}
		}
	}
	return n, nil
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
