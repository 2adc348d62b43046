package forward

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"padjig/results/plant/postgres"
)

// Found is how a station stands to its plant at one moment, with nothing changed on either side.
type Found struct {
	Runs, Rows int64         // that the plant does not have yet; runs are among the rows
	Oldest     time.Time     // when the oldest of these runs was saved, by the station's clock; zero: none waits
	Ahead      time.Duration // the station's clock
	Notices    int64         // that hang at the plant
	Shown      postgres.Shown
}

// Look asks the plant how a station stands to it. What forwarding would wait for a person for is a [StoppedError], as far as it
// shows without sending anything.
func Look(ctx context.Context, plant *sql.DB, records Records, member string) (st Found, err error) {
	f := &Forwarder{Plant: plant, Records: records, Member: member}
	s, err := f.connect(ctx)
	if err == nil {
		defer s.conn.Close()
		err = f.samePast(ctx, s)
	}
	if err == nil {
		st.Shown, err = postgres.ShownBy(ctx, s.conn)
	}
	if err == nil {
		err = f.stands(ctx, s, &st)
	}
	if err != nil {
		return st, fmt.Errorf("look at the plant: %w", err)
	}
	return st, nil
}

func (f *Forwarder) stands(ctx context.Context, s *session, st *Found) error {
	clock, err := measureClock(ctx, s.conn, s.now)
	if err != nil {
		return err
	}
	st.Ahead = clock.ahead
	if err := s.conn.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) FROM notice`).Scan(&st.Notices); err != nil {
		return err
	}
	return f.Records.View(ctx, func(tx *sql.Tx) error {
		o, err := ownOf(ctx, tx, newBatch(s.at.local))
		if err != nil {
			return err
		}
		st.Runs, st.Rows = o.runs, o.rows
		if o.oldest > 0 {
			st.Oldest = time.UnixMicro(o.oldest).UTC()
		}
		return nil
	})
}
