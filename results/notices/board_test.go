package notices_test

import (
	"context"
	"crypto/ed25519"
	"errors"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/notices"
	"padjig/results/plant/board"
	"padjig/results/plant/forward"
	"padjig/results/plant/notice"
)

// Several programs that publish for one office at a time, with one file of records, put the same up as one: none is
// told of a newer head, and none of another office.
func TestSeveralPublishForOneOffice(t *testing.T) {
	t.Parallel()
	p := newPlant(t)
	p.release("A", "200 ohm")
	again, err := results.Open(t.Context(), p.office.Path())
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, again.Close()) })
	var all sync.WaitGroup
	failed := make(chan error, 100)
	for _, s := range []*results.Store{p.office, again, p.office} {
		all.Go(func() {
			for range 5 {
				_, err := s.Notices.Issue(t.Context(), keyOf(1), notices.Further{})
				if err == nil {
					_, _, err = board.Put(t.Context(), p.db, ofOffice(t.Context(), s, keyOf(1)))
				}
				if err != nil {
					failed <- err
				}
			}
		})
	}
	all.Wait()
	close(failed)
	for err := range failed {
		assert.NoError(t, err)
	}
	s := open(t, "station.db")
	assert.Nil(t, p.look(s).Trouble)
	assert.Equal(t, "A", inForce(t, s))
}

// Cut short at any of its steps, publishing leaves the board as it was or as it should be, and done again goes on.
func TestPublishingCutShort(t *testing.T) {
	t.Parallel()
	p, s := newPlant(t), open(t, "station.db")
	p.release("A", "200 ohm")
	p.publish()
	p.look(s)
	p.release("B", "100 ohm")
	waiting, err := p.office.Notices.Waiting(t.Context())
	require.NoError(t, err)
	assert.Equal(t, notices.Waiting{Releases: 1}, waiting)
	p.issue()
	waiting, err = p.office.Notices.Waiting(t.Context())
	require.NoError(t, err)
	assert.False(t, waiting.Any(), "%v", waiting)
	cut := errors.New("the lights went out")
	whole := ofOffice(t.Context(), p.office, keyOf(1))
	for step, of := range map[string]board.Office{
		"before the notices":   {Own: func(int64) ([]notice.Notice, error) { return nil, cut }, Head: whole.Head},
		"behind the notices":   {Own: whole.Own, Head: func() (notice.Head, error) { return notice.Head{}, cut }},
		"at the head's commit": {Own: whole.Own, Head: func() (notice.Head, error) { _, _ = whole.Head(); return notice.Head{}, cut }},
	} {
		_, _, err := board.Put(t.Context(), p.db, of)
		require.ErrorIs(t, err, cut, step)
		top, err := board.Top(t.Context(), p.db)
		require.NoError(t, err)
		assert.EqualValues(t, 2, top, step)
		assert.Nil(t, p.look(s).Trouble, step)
		assert.Equal(t, "A", inForce(t, s), step)
	}
	require.NoError(t, p.put())
	assert.Nil(t, p.look(s).Trouble)
	assert.Equal(t, "B", inForce(t, s))
}

// The plant knows of each station how far it took the notices, by its own word; of a name that it does not know nothing.
func TestWhatStationsTook(t *testing.T) {
	t.Parallel()
	p := newPlant(t)
	for _, name := range []string{"line-1", "line-2"} {
		_, err := forward.Join(t.Context(), p.db, name)
		require.NoError(t, err)
	}
	require.NoError(t, board.Took(t.Context(), p.db, "line-2", 4, nil))
	require.NoError(t, board.Took(t.Context(), p.db, "line-2", 5, &notice.Mistake{Code: notice.Withheld, Number: 7}))
	require.NoError(t, board.Took(t.Context(), p.db, "line-9", 5, nil))
	list, err := board.Stations(t.Context(), p.db)
	require.NoError(t, err)
	require.Len(t, list, 2)
	assert.Equal(t, board.Taken{Member: 1, Station: "line-1"}, list[0])
	assert.False(t, list[1].Told.IsZero())
	list[1].Told = list[0].Told
	assert.Equal(t, board.Taken{Member: 2, Station: "line-2", Number: 5, Trouble: notice.Withheld, About: 7}, list[1])
	require.NoError(t, board.Took(t.Context(), p.db, "line-2", 2, nil), "a station that was restored from a backup is further back")
}

// Before anything is issued a key is held against the records.
func TestWhoseKeySigns(t *testing.T) {
	t.Parallel()
	p, s := newPlant(t), open(t, "station.db")
	signs := func(s *results.Store, key ed25519.PrivateKey) error {
		return s.Notices.Signs(context.WithoutCancel(t.Context()), key)
	}
	require.NoError(t, signs(p.office, keyOf(2)), "nothing was signed yet")
	p.release("A", "200 ohm")
	p.publish()
	p.look(s)
	require.NoError(t, signs(p.office, keyOf(1)))
	require.ErrorIs(t, signs(p.office, keyOf(2)), notices.ErrOtherKey)
	require.ErrorIs(t, signs(s, keyOf(1)), notices.ErrStation)
}
