package store

import (
	"context"
	"database/sql"
	"sync"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Whoever wants to write waits for those who came before, and for nobody else: of sixteen who wait none is passed over,
// and one who gives up takes nobody's turn.
func TestWritersTakeTurns(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := openTemp(t)
		var order []int
		write := func(n int, ctx context.Context) error {
			return s.Update(ctx, func(*sql.Tx) error { order = append(order, n); return nil })
		}
		hold, held := make(chan struct{}), make(chan struct{})
		var all sync.WaitGroup
		all.Go(func() {
			assert.NoError(t, s.Update(t.Context(), func(*sql.Tx) error { close(held); <-hold; return nil }))
		})
		<-held
		impatient, giveUp := context.WithCancel(t.Context())
		var want []int
		for n := range 16 {
			ctx := t.Context()
			if n == 7 {
				ctx = impatient
			} else {
				want = append(want, n)
			}
			all.Go(func() {
				if err := write(n, ctx); n == 7 {
					assert.ErrorIs(t, err, context.Canceled)
				} else {
					assert.NoError(t, err)
				}
			})
			synctest.Wait() // it waits
		}
		giveUp()
		synctest.Wait()
		close(hold)
		all.Wait()
		assert.Equal(t, want, order)
		require.NoError(t, write(99, t.Context()))
	})
}

// Somebody who panics in a transaction leaves nothing of it, and the next one writes.
func TestAPanicInATransaction(t *testing.T) {
	s := openTemp(t)
	assert.Panics(t, func() {
		_ = s.Update(t.Context(), func(tx *sql.Tx) error {
			_, err := tx.ExecContext(t.Context(), `CREATE TABLE left_over (n)`)
			require.NoError(t, err)
			panic("no such key")
		})
	})
	require.NoError(t, s.Update(t.Context(), func(tx *sql.Tx) error {
		_, err := tx.ExecContext(t.Context(), `CREATE TABLE left_over (n)`)
		return err
	}))
}

// Long questions that take every connection there is hold up nobody at a jig, and a question of the same sort waits.
func TestReservedReaders(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := openTemp(t)
		nothing := func(*sql.Tx) error { return nil }
		end := make(chan struct{})
		var all sync.WaitGroup
		for range MaxReaders {
			all.Go(func() {
				assert.NoError(t, s.View(t.Context(), func(*sql.Tx) error { <-end; return nil }))
			})
		}
		synctest.Wait() // each has its connection
		require.NoError(t, s.View(Reserved(t.Context()), nothing))
		impatient, giveUp := context.WithCancel(t.Context())
		giveUp()
		require.ErrorIs(t, s.View(impatient, nothing), context.Canceled)
		answered := false
		all.Go(func() {
			assert.NoError(t, s.View(t.Context(), nothing))
			answered = true
		})
		synctest.Wait()
		assert.False(t, answered, "all connections were taken")
		require.NoError(t, s.View(Reserved(context.WithoutCancel(t.Context())), nothing))
		close(end)
		all.Wait()
		require.NoError(t, s.Close())
		require.ErrorIs(t, s.View(Reserved(t.Context()), nothing), ErrClosed)
	})
}
