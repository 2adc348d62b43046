package plant_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/answers/plant"
	"padjig/results/plant/board"
	"padjig/results/plant/forward"
)

// A station that has nothing to bring says so and is idle; silent, behind, stopped, without notices and with a wrong clock
// are told apart, whatever its last run was.
func TestWhatAStationSaysOfItself(t *testing.T) {
	pool := server.Plant(t)
	hall := newStation(t, "hall", "J-0001")
	hall.test("H-001", nil)
	_, err := forward.Join(t.Context(), pool, "hall")
	require.NoError(t, err)
	_, err = forward.Join(t.Context(), pool, "yard")
	require.NoError(t, err)
	ahead := time.Duration(0)
	f := &forward.Forwarder{Plant: pool, Records: hall.Store, Member: "hall", Now: func() time.Time { return time.Now().Add(ahead) }}
	defer f.Close()
	_, err = f.All(t.Context(), func(int64, int64) {})
	require.NoError(t, err)
	over := results.Over(pool, "the plant")
	asked := func(later time.Duration) map[string]plant.Station {
		all, err := plant.AskStations(t.Context(), over, plant.StationsAsked{Now: time.Now().Add(later), Simulated: true})
		require.NoError(t, err)
		by := map[string]plant.Station{}
		for _, one := range all.Rows {
			by[one.Name] = one
		}
		return by
	}
	first := asked(0)
	assert.Equal(t, plant.StateIdle, first["hall"].State, "its run was stored months ago")
	assert.Equal(t, plant.StateNever, first["yard"].State)
	require.NotNil(t, first["hall"].Behind)
	assert.Zero(t, *first["hall"].Behind)
	assert.NotEmpty(t, first["hall"].Program)
	assert.Equal(t, plant.StateSilent, asked(time.Hour)["hall"].State)

	// Nothing is said again before its time, nor does the table grow.
	said := first["hall"].Heard
	_, err = f.Batch(t.Context(), forward.UsualSize)
	require.NoError(t, err)
	assert.Equal(t, said, asked(0)["hall"].Heard)
	ahead = 2 * forward.Beat
	_, err = f.Batch(t.Context(), forward.UsualSize)
	require.NoError(t, err)
	now := asked(0)["hall"]
	assert.True(t, now.Heard.After(said))
	assert.Equal(t, plant.StateClock, now.State)
	assert.InDelta(t, 120, now.Ahead.Seconds(), 30)
	ahead = -time.Hour // a clock that was put back says how it stands all the same
	_, err = f.Batch(t.Context(), forward.UsualSize)
	require.NoError(t, err)
	assert.Negative(t, asked(0)["hall"].Ahead)
	var rows int
	require.NoError(t, pool.QueryRowContext(t.Context(), `SELECT count(*) FROM heartbeat`).Scan(&rows))
	assert.Equal(t, 1, rows)

	for want, set := range map[plant.State]string{
		plant.StateStopped: `stopped = 'other past'`,
		plant.StateBehind:  `waiting_runs = 7, waiting_rows = 90, oldest_us = at_us - 600000000`,
		plant.StateTesting: `ahead_us = 0`,
	} {
		_, err := pool.ExecContext(t.Context(), `UPDATE heartbeat SET stopped = '', oldest_us = 0`)
		require.NoError(t, err)
		_, err = pool.ExecContext(t.Context(), `UPDATE heartbeat SET `+set)
		require.NoError(t, err)
		if want == plant.StateTesting {
			hall.now = time.Now()
			hall.test("H-002", nil)
			ahead = 0
			_, err = f.All(t.Context(), func(int64, int64) {})
			require.NoError(t, err)
		}
		assert.Equal(t, want, asked(0)["hall"].State, set)
	}

	// Which notices it took is said by who takes them.
	require.NoError(t, board.Took(t.Context(), pool, "hall", 1, nil))
	assert.Equal(t, plant.StateTesting, asked(0)["hall"].State)
	for range 2 {
		_, err := pool.ExecContext(t.Context(), `
			INSERT INTO notice (seq, kind, subject, body, issued_us, before, signature)
			SELECT coalesce(max(seq), 0) + 1, 'release', 'GCC-20', '', 0, sha256('a'), sha512('b') FROM notice`)
		require.NoError(t, err)
	}
	assert.Equal(t, plant.StateNotices, asked(0)["hall"].State)
	require.NoError(t, board.Took(t.Context(), pool, "hall", 2, nil))
	assert.Equal(t, plant.StateTesting, asked(0)["hall"].State)
}
