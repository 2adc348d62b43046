package main

import (
	"bytes"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/serve/notices"
	"padjig/results"
	"padjig/results/accounts"
	"padjig/results/plant/board"
	"padjig/results/plant/notice"
	"padjig/results/plant/postgres"
)

// passage is the way to a server of PostgreSQL's, on which something happens when so much has gone to it.
type passage struct {
	testing.TB
	to  string // socket of the server
	dir string
	all sync.WaitGroup

	mu    sync.Mutex
	after int // pieces that go to the server before it happens
	then  func()
	came  int
}

func newPassage(t testing.TB, address string) (w *passage, over string) {
	t.Helper()
	host, rest, found := strings.Cut(strings.TrimPrefix(address, "host="), " ")
	require.True(t, found)
	dir, err := os.MkdirTemp("", "wire") // the path of a socket has to be short
	require.NoError(t, err)
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	w = &passage{TB: t, to: filepath.Join(host, ".s.PGSQL.5432"), dir: dir}
	listener, err := net.Listen("unix", filepath.Join(dir, ".s.PGSQL.5432"))
	require.NoError(t, err)
	w.all.Go(func() {
		for {
			program, err := listener.Accept()
			if err != nil {
				return
			}
			server, err := net.Dial("unix", w.to)
			if err != nil {
				_ = program.Close()
				continue
			}
			end := sync.OnceFunc(func() { _ = program.Close(); _ = server.Close() })
			w.all.Go(func() { defer end(); _, _ = io.Copy(program, server) })
			w.all.Go(func() { defer end(); w.there(program, server) })
		}
	})
	t.Cleanup(func() { _ = listener.Close(); w.all.Wait() }) // programs that have ended have closed their ends
	return w, "host=" + dir + " " + rest
}

// there carries what a program sends, piece by piece as it was written.
func (w *passage) there(program, server net.Conn) {
	piece := make([]byte, 1<<16)
	for {
		n, err := program.Read(piece)
		if n > 0 {
			if _, err := server.Write(piece[:n]); err != nil {
				return
			}
			w.mu.Lock()
			w.came++
			if w.came == w.after {
				w.then()
			}
			w.mu.Unlock()
		}
		if err != nil {
			return
		}
	}
}

// publishKills is how often the program is killed at most: behind each piece that it sends, until there are no more. few is how much is
// decided meanwhile.
const (
	publishKills = 60
	few          = 3
)

// An office that is killed while it publishes, by a signal that it cannot catch, behind each piece that it sends to the plant's
// database in turn - what is on its way there arrives, or does not - has put up each notice once when it is done, in their order,
// and a station believes all of them. Nothing that was decided is lost, and nothing is decided twice.
func TestKilledWhilePublishing(t *testing.T) {
	t.Parallel()
	server, err := startedPlant()
	require.NoError(t, err)
	address := server.Made(t)
	w, over := newPassage(t, address)
	dir := t.TempDir()
	key, records := filepath.Join(dir, "office.key"), filepath.Join(dir, "office.sqlite")
	require.NoError(t, os.WriteFile(records+"-ballast", nil, 0o644))
	public, err := exec.CommandContext(t.Context(), "padjig", "plant", "key", key).Output()
	require.NoError(t, err)
	keys, err := notice.ReadPublic(public)
	require.NoError(t, err)
	var decided []string
	decide := func() {
		s, err := results.Open(t.Context(), records)
		require.NoError(t, err)
		name := fmt.Sprintf("Ines %d", len(decided)+1)
		decided = append(decided, name)
		require.NoError(t, s.Accounts.Decide(t.Context(), accounts.AccountEvent{Name: name, Kind: accounts.AccountRole, Role: "operator", By: "terminal"}))
		require.NoError(t, s.Close())
	}
	// publish has the program publish, killed behind so many pieces; 0 never. It reports whether it was.
	publish := func(after int) (killed bool) {
		cmd := exec.CommandContext(t.Context(), "padjig", "plant", "publish", "--key", key, "--plant", over, "--store", records)
		var said bytes.Buffer
		cmd.Stdout, cmd.Stderr = &said, &said
		w.mu.Lock()
		require.NoError(t, cmd.Start())
		w.came, w.after, w.then = 0, after, func() { killed = true; _ = cmd.Process.Kill() }
		w.mu.Unlock()
		err := cmd.Wait()
		w.mu.Lock()
		defer w.mu.Unlock()
		w.after = 0
		if !killed {
			require.NoError(t, err, said.String())
		}
		return killed
	}
	kills, unhindered := 0, false
	for after := 1; after <= publishKills && !unhindered; after++ {
		if after <= few { // what was decided waits until it hangs there, and is put up in a piece of its own each
			decide()
		}
		if publish(after) {
			kills++
		} else {
			unhindered = true // there are fewer pieces
		}
	}
	t.Logf("killed %d times", kills)
	require.Greater(t, kills, few)
	require.True(t, unhindered, "it is killed at every piece")
	decide()
	require.False(t, publish(0))
	require.False(t, publish(0), "once more changes nothing")

	db, err := postgres.Open(address)
	require.NoError(t, err)
	defer db.Close()
	list, head, err := board.Read(t.Context(), db, 0, 1000)
	require.NoError(t, err)
	var up []string
	for i, n := range list {
		assert.EqualValues(t, i+1, n.Number)
		if n.Kind == notice.Account {
			up = append(up, n.Subject)
		}
	}
	assert.Equal(t, decided, up, "each once, in the order in which it was decided")
	assert.EqualValues(t, len(list), head.Count)

	station, err := results.Open(t.Context(), filepath.Join(dir, "station.sqlite"))
	require.NoError(t, err)
	defer station.Close()
	p := &notices.Pump{Plant: db, Records: station.Notices, Pinned: keys, Stale: time.Hour}
	require.NoError(t, p.First(t.Context()))
	known, err := station.Accounts.Accounts(t.Context())
	require.NoError(t, err)
	assert.Len(t, known, len(decided))
}
