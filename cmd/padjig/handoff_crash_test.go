package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/runs/runstest"
)

// handedTo is a receiver of webhooks, which sees what comes first and what comes again.
type handedTo struct {
	sync.Mutex
	once  []string
	seen  map[string]bool
	again int
}

func (h *handedTo) ServeHTTP(_ http.ResponseWriter, r *http.Request) {
	body, err := io.ReadAll(r.Body)
	var o struct{ ID string }
	if err != nil || json.Unmarshal(body, &o) != nil {
		return // the sender was killed
	}
	h.Lock()
	defer h.Unlock()
	if h.seen[o.ID] {
		h.again++
		return
	}
	h.seen[o.ID], h.once = true, append(h.once, o.ID)
}

func (h *handedTo) count() int {
	h.Lock()
	defer h.Unlock()
	return len(h.once)
}

// A station that is killed while it hands on, with a signal that it cannot catch, at whatever
// moment: at the end webhook and folder have all that is stored, in its order.
func TestKilledWhileHandingOn(t *testing.T) {
	t.Parallel()
	const units = 200
	folder, path := t.TempDir(), filepath.Join(t.TempDir(), "records.sqlite")
	key := filepath.Join(t.TempDir(), "mes.key")
	require.NoError(t, os.WriteFile(key, []byte("whsec_Z3JlZW5ob3VzZSBjbGltYXRlIGNvbnRyb2xsZXI=\n"), 0o600))
	store, err := results.Open(t.Context(), path)
	require.NoError(t, err)
	for _, receiver := range []string{"mes", "files"} {
		_, err := store.HandOff.Begin(t.Context(), receiver)
		require.NoError(t, err)
	}
	for i := range units {
		_, err := store.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed(fmt.Sprintf("24-%06d", i)))
		require.NoError(t, err)
	}
	var want []string
	events, err := store.HandOff.Next(t.Context(), 0, 2*units)
	require.NoError(t, err)
	for _, e := range events {
		want = append(want, e.ID.String())
	}
	require.Len(t, want, units)
	require.NoError(t, store.Close())

	hook := &handedTo{seen: map[string]bool{}}
	server := httptest.NewServer(hook)
	defer server.Close()
	whole := func() (names []string) {
		files, err := filepath.Glob(filepath.Join(folder, "[0-9]*.json"))
		require.NoError(t, err)
		return files
	}
	run := func(ctx context.Context) {
		var trouble bytes.Buffer
		cmd := exec.CommandContext(ctx, "padjig", "station", "--product", crashProduct, "--jig", "SIM-0001", "--listen", "127.0.0.1:0",
			"--store", path, "--hand-off", "mes="+server.URL, "--hand-off-secret", "mes="+key, "--hand-off", "files=file://"+folder)
		cmd.Stderr = &trouble
		err := cmd.Run()
		require.Error(t, ctx.Err(), "it ended by itself: %v\n%s", err, trouble.String())
	}
	kills := 0
	for rnd := rand.New(rand.NewPCG(*crashSeed, 0)); hook.count() < units*3/4; kills++ {
		require.Less(t, kills, 100)
		until := hook.count() + 1 + rnd.IntN(60)
		ctx, kill := context.WithCancel(t.Context())
		go func() {
			for hook.count() < until && ctx.Err() == nil {
				time.Sleep(time.Millisecond)
			}
			kill()
		}()
		run(ctx)
	}
	ctx, kill := context.WithCancel(t.Context())
	go func() {
		for hook.count() < units || len(whole()) < units {
			time.Sleep(5 * time.Millisecond)
		}
		kill()
	}()
	run(ctx)
	t.Logf("killed %d times, %d came again", kills, hook.again)
	assert.Positive(t, hook.again, "no kill came between an event and keeping that it was delivered")
	assert.Equal(t, want, hook.once)
	var files []string
	for _, name := range whole() {
		var o struct{ ID string }
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		require.NoError(t, json.Unmarshal(text, &o))
		files = append(files, o.ID)
	}
	assert.Equal(t, want, files)

	got := runHere(t, "records", "hand-off", "list", "--store", path)
	assert.Zero(t, got.status, got.stderr)
	assert.Equal(t, 2, strings.Count(got.stdout, "no station is sending"))
	got = runHere(t, "records", "check", "--store", path)
	assert.Zero(t, got.status, got.stdout)
}
