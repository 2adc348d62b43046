package diary_test

import (
	"bytes"
	"errors"
	"io"
	"log/slog"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/log"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/station/diary"
	"padjig/sequence"
)

// A save that takes long is logged while it does, so that one which never ends is seen, and when
// it is over, with how long it took. One that does not is not.
func TestASlowSaveIsLogged(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out bytes.Buffer
		told := diary.Of(slog.New(slog.NewTextHandler(&out, nil)), 2)
		save := func(takes time.Duration) string {
			out.Reset()
			running := station.State{Phase: station.Running, Unit: sequence.Unit{Serial: "GCC-000001-3"}}
			storing, over := running, running
			storing.Phase, over.Phase = station.Storing, station.Refused
			told(&running, &storing)
			time.Sleep(takes)
			synctest.Wait()
			during := strings.Count(out.String(), log.SaveSlow)
			told(&storing, &over)
			assert.Equal(t, during*2, strings.Count(out.String(), log.SaveSlow))
			return out.String()
		}
		assert.Empty(t, save(diary.SlowSave-time.Millisecond))
		slow := save(diary.SlowSave + 500*time.Millisecond)
		assert.Contains(t, slow, "lane=2 unit=GCC-000001-3 limit=1s over=false\n")
		assert.Contains(t, slow, "lane=2 unit=GCC-000001-3 limit=1s over=true took=1.5s\n")
		time.Sleep(time.Hour)
		assert.Equal(t, slow, out.String(), "nothing later")
	})
}

// A jig that is let go of, since the station ends, is not lost.
func TestAJigThatIsLetGoOfIsNotLost(t *testing.T) {
	var out strings.Builder
	logger, end, err := log.Open(&out, log.Options{Level: "info", Format: log.Text})
	require.NoError(t, err)
	told := diary.Of(logger, 1)
	there := station.State{Jig: station.JigState{Name: "J-1", Serial: "J-1", Present: true}}
	gone, pulled := there, there
	gone.Jig.Present, pulled.Jig.Present = false, false
	pulled.Jig.Why = errors.New("not plugged in")
	told(&there, &pulled)
	told(&pulled, &pulled)
	told(&there, &gone)
	told(&gone, &gone)
	end()
	assert.Equal(t, 1, strings.Count(out.String(), log.JigLost), out.String())
	assert.Equal(t, 1, strings.Count(out.String(), log.JigLeft), out.String())
	assert.NotContains(t, out.String(), "nil")
}

// Whoever should read the log and does not holds no lane up.
func TestALogThatNobodyReadsHoldsNoLane(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, w := io.Pipe()
		logger, end, err := log.Open(w, log.Options{Level: "debug", Format: log.Text})
		require.NoError(t, err)
		told, began := diary.Of(logger, 1), time.Now()
		ready, running := station.State{Phase: station.Ready}, station.State{Phase: station.Running}
		for range 20_000 {
			told(&ready, &running)
			told(&running, &ready)
		}
		assert.Zero(t, time.Since(began))
		require.NoError(t, r.Close())
		end()
	})
}
