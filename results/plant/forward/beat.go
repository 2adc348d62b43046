package forward

import (
	"context"
	"database/sql"
	"time"

	"padjig/results/store"
)

// Beat is how often a station says how it stands: often enough that one which is silent for minutes is missed, and so
// seldom that thousands are no load.
const Beat = time.Minute

// own is what a station says of itself.
type own struct {
	runs, rows int64 // that wait
	oldest     int64 // when the oldest run of these was saved, by the station's clock, in microseconds; 0: none waits
	version    string
	host       string
}

// ownOf reads what a station says of itself, when its rows went to the plant as far as a batch goes.
func ownOf(ctx context.Context, tx *sql.Tx, b *batch) (o own, err error) {
	if err := b.look(ctx, tx); err != nil {
		return o, err
	}
	for name, newest := range b.newest {
		o.rows += max(newest-b.reached(name), 0)
	}
	o.runs = max(b.newest["run"]-b.reached("run"), 0)
	_, err = store.RowOf(ctx, tx, `SELECT saved_us FROM run WHERE seq = ?`, []any{b.reached("run") + 1}, &o.oldest)
	if err == nil {
		_, err = store.RowOf(ctx, tx, `SELECT version, host FROM program ORDER BY seq DESC LIMIT 1`, nil, &o.version, &o.host)
	}
	return o, err
}

// reached is the last row of a table that is at the plant with the batch.
func (b *batch) reached(table string) int64 { return max(b.to[table], b.from[table]) }

// beat says how the station stands, where it is time to or what stops it is another than was said last.
func (f *Forwarder) beat(ctx context.Context, s *session, b *batch, stop *StoppedError) error {
	code := ""
	if stop != nil {
		code = stop.Code
	}
	now := s.now()
	if passed := now.Sub(f.said.at); passed >= 0 && passed < Beat && code == f.said.stopped {
		return nil
	}
	var o own
	err := f.Records.View(ctx, func(tx *sql.Tx) (err error) {
		o, err = ownOf(ctx, tx, b)
		return err
	})
	if err != nil {
		return err
	}
	clock, err := measureClock(ctx, s.conn, s.now)
	if err != nil {
		return err
	}
	oldest := o.oldest
	if oldest != 0 {
		oldest = clock.stored(oldest).UnixMicro()
	}
	_, err = s.conn.ExecContext(ctx, `
		INSERT INTO heartbeat (member, at_us, waiting_runs, waiting_rows, oldest_us, version, host, ahead_us, uncertainty_us, stopped)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (member) DO UPDATE SET at_us = excluded.at_us, waiting_runs = excluded.waiting_runs, waiting_rows = excluded.waiting_rows,
		    oldest_us = excluded.oldest_us, version = excluded.version, host = excluded.host, ahead_us = excluded.ahead_us,
		    uncertainty_us = excluded.uncertainty_us, stopped = excluded.stopped`,
		s.member, clock.at, o.runs, o.rows, oldest, store.Text(o.version), store.Text(o.host), clock.ahead.Microseconds(),
		clock.uncertainty.Microseconds(), code)
	if err == nil {
		f.said.at, f.said.stopped = now, code
	}
	return err
}
