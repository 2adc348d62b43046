package forward

import (
	"context"
	"database/sql"
	"time"
)

// offset is how far the clock of the station is ahead of the plant's.
type offset struct {
	at          int64         // when, by the clock of the plant, in microseconds since 1970
	ahead       time.Duration // of a station behind it is less than nothing
	uncertainty time.Duration // the true one lies within this
}

// asks are how often the plant's clock is asked; of the answers the fastest is the best.
const asks = 3

// measureClock asks for the plant's time. What it says was true at some moment between question and answer; the middle is
// the best guess, and half the round trip is how far it may be out, however unlike the two ways are
// (RFC 5905, section 8, reckons the same bound). The round trip is taken by the monotonic clock.
func measureClock(ctx context.Context, c *sql.Conn, now func() time.Time) (best offset, err error) {
	for i := range asks {
		var plant int64
		asked := now()
		if err := c.QueryRowContext(ctx, `SELECT (extract(epoch FROM clock_timestamp()) * 1000000)::bigint`).Scan(&plant); err != nil {
			return offset{}, err
		}
		half := now().Sub(asked) / 2
		o := offset{plant, asked.Add(half).Sub(time.UnixMicro(plant)), half}
		if i == 0 || o.uncertainty < best.uncertainty {
			best = o
		}
	}
	return best, nil
}

// stored is when a row was saved by the plant's clock, by what the station's said. It is never later
// than now: a clock that was set to another year and back must not put all runs that follow there.
func (o offset) stored(savedMicros int64) time.Time {
	return time.UnixMicro(min(savedMicros-o.ahead.Microseconds(), o.at))
}
