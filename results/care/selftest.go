package care

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"padjig/results/store"
	"padjig/sequence"
)

// SelfTests is what the newest runs on a jig say of its self-test. Readings that were good are
// not on record: a run that went on had one.
type SelfTests struct {
	Runs    int
	Stopped int           // by the self-test
	Last    time.Time     // when the newest of them was
	Why     sequence.Said // and what it read
}

// selfTested are the newest runs that are looked at: some weeks of a line that reseats now and
// then, and few enough to be read at once.
const selfTested = 1000

// SelfTests looks at the newest runs on a jig, whatever they were for.
func (s *Records) SelfTests(ctx context.Context, jig string, simulated bool) (out SelfTests, err error) {
	err = s.db.Ask(ctx, fmt.Sprintf("look up the self-tests of jig %s", jig), func(tx *sql.Tx) error {
		const newest = ` FROM (SELECT started_us, ended FROM run WHERE jig IN (SELECT jig FROM jig WHERE serial = ?) AND simulated = ?
			ORDER BY seq DESC LIMIT ?)`
		args := []any{jig, simulated, selfTested}
		if err := tx.QueryRowContext(ctx, `SELECT count(*), coalesce(sum(ended ->> 0 = ?), 0)`+newest,
			append([]any{string(sequence.JigMisreads)}, args...)...).Scan(&out.Runs, &out.Stopped); err != nil || out.Stopped == 0 {
			return err
		}
		err := tx.QueryRowContext(ctx, `SELECT started_us, ended`+newest+` WHERE ended ->> 0 = ? LIMIT 1`,
			append(args, string(sequence.JigMisreads))...).Scan(store.Time(&out.Last), store.JSON(&out.Why))
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		return err
	})
	return out, err
}
