package handoff

import (
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/runs/runstest"
	"padjig/results/store"
)

// house is a store, from whose first moment all is handed on to "mes".
type house struct {
	testing.TB
	*results.Store
}

func newHouse(t testing.TB) *house {
	t.Helper()
	h := &house{t, open(t, filepath.Join(t.TempDir(), "records.sqlite"))}
	_, err := h.HandOff.Begin(t.Context(), "mes")
	require.NoError(t, err)
	return h
}

func open(t testing.TB, path string) *results.Store {
	t.Helper()
	with := store.Real()
	with.Ballast = 1 << 20
	s, err := results.OpenWith(t.Context(), path, with)
	require.NoError(t, err)
	t.Cleanup(func() { _ = s.Close() })
	return s
}

// save stores a run of each of these units.
func (h *house) save(units ...int) {
	h.Helper()
	for _, n := range units {
		_, err := h.Runs.Save(context.Background(), runstest.Climate(), runstest.Passed(unit(n)))
		require.NoError(h, err)
	}
}

func unit(n int) string { return fmt.Sprintf("24-%06d", n) }

// hand hands on to a receiver until end is called.
func (h *house) hand(s Sender) (end func()) {
	return Start(context.Background(), h.HandOff, []Receiver{{"mes", s}}, false)
}

// stored are the ids of all events, in their order.
func (h *house) stored() (ids []string) {
	h.Helper()
	list, err := h.HandOff.Next(context.Background(), 0, 100000)
	require.NoError(h, err)
	for _, e := range list {
		ids = append(ids, e.ID.String())
	}
	return ids
}

// taken is what a receiver took: every message, whether it had it before or not.
type taken struct {
	sync.Mutex
	ids    []string
	bodies map[string]string
	other  []string // ids that came with another body than before
}

// take gives whether it is new.
func (r *taken) take(body []byte) bool {
	var o struct{ ID string }
	if json.Unmarshal(body, &o) != nil || o.ID == "" {
		panic("this is no event: " + string(body))
	}
	r.Lock()
	defer r.Unlock()
	if r.bodies == nil {
		r.bodies = map[string]string{}
	}
	before, had := r.bodies[o.ID]
	if had && before != string(body) {
		r.other = append(r.other, o.ID)
	}
	r.bodies[o.ID] = string(body)
	r.ids = append(r.ids, o.ID)
	return !had
}

// all are the ids in the order in which they came.
func (r *taken) all() []string {
	r.Lock()
	defer r.Unlock()
	return slices.Clone(r.ids)
}

// once are the ids in the order in which they came first.
func (r *taken) once() (ids []string) {
	r.Lock()
	defer r.Unlock()
	seen := map[string]bool{}
	for _, id := range r.ids {
		if !seen[id] {
			ids = append(ids, id)
		}
		seen[id] = true
	}
	return ids
}

// sound holds that what a receiver took is what is stored, in the order it was stored, and
// that what came twice came as it was.
func (r *taken) sound(h *house) {
	h.Helper()
	assert.Equal(h, h.stored(), r.once())
	assert.Empty(h, r.other)
}

func (h *house) progress() (has, behind int64, why string) {
	h.Helper()
	st, err := h.HandOff.Receiver(context.Background(), "mes")
	require.NoError(h, err)
	if st.Trouble != nil {
		why = st.Trouble.Why
	}
	return st.Has, st.Behind, why
}
