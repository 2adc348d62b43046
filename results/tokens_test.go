package results

import (
	"crypto/sha256"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/tokens"
)

// A name has one good token at a time; what was revoked or ran out frees it, and opens nothing.
func TestTokensOfAName(t *testing.T) {
	s := openTemp(t)
	ctx := t.Context()
	add := func(bits string, until time.Time) error {
		return s.Tokens.Add(ctx, sha256.Sum256([]byte(bits)), tokens.Token{
			Name: "MES", Scopes: []tokens.Scope{tokens.Units, tokens.Metrics}, Until: until, By: "Ines",
		})
	}
	require.NoError(t, add("one", time.Now().Add(-time.Minute)))
	require.ErrorIs(t, s.Tokens.Revoke(ctx, "MES", "Ines"), tokens.ErrNoToken, "it ran out")
	require.NoError(t, add("two", time.Now().Add(time.Hour)))
	require.ErrorIs(t, add("three", time.Now().Add(time.Hour)), tokens.ErrTaken)
	two, err := s.Tokens.Of(ctx, sha256.Sum256([]byte("two")))
	require.NoError(t, err)
	assert.True(t, two.Opens(tokens.Units, time.Now()))
	assert.False(t, two.Opens(tokens.Yields, time.Now()), "a scope it was not given")
	for range 3 {
		require.NoError(t, s.Tokens.Use(ctx, *two))
	}
	require.NoError(t, s.Tokens.Revoke(ctx, "MES", "Ines"))
	two, err = s.Tokens.Of(ctx, sha256.Sum256([]byte("two")))
	require.NoError(t, err)
	assert.False(t, two.Good(time.Now()))
	assert.Equal(t, time.Now().UTC().Format(time.DateOnly), two.Used)
	none, err := s.Tokens.Of(ctx, sha256.Sum256([]byte("of another store")))
	require.NoError(t, err)
	assert.Nil(t, none)
	require.NoError(t, add("three", time.Now().Add(time.Hour)))
	list, err := s.Tokens.List(ctx)
	require.NoError(t, err)
	assert.Len(t, list, 3)
	found, err := s.Check(ctx)
	require.NoError(t, err)
	assert.Empty(t, found)
}
