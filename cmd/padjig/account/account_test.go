package account

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestPassword(t *testing.T) {
	hash, err := HashPassword("tomatoes at noon")
	require.NoError(t, err)
	assert.True(t, strings.HasPrefix(hash, "$argon2id$v=19$m=65536,t=3,p=2$"), hash)
	assert.True(t, CheckPassword(hash, "tomatoes at noon"))
	assert.False(t, CheckPassword(hash, "tomatoes at noon "))
	assert.False(t, CheckPassword("", "tomatoes at noon"), "no password is kept")
	again, err := HashPassword("tomatoes at noon")
	require.NoError(t, err)
	assert.NotEqual(t, hash, again, "each has a salt of its own")
	for name, hash := range map[string]string{
		"cut short":     hash[:40],
		"no passes":     strings.Replace(hash, "t=3", "t=0", 1),
		"another kind":  strings.Replace(hash, "argon2id", "argon2i", 1),
		"another age":   strings.Replace(hash, "v=19", "v=16", 1),
		"not base64":    strings.Replace(hash, "$m=", "$m=!", 1),
		"fewer threads": strings.Replace(hash, "p=2", "p=1", 1),
	} {
		assert.False(t, CheckPassword(hash, "tomatoes at noon"), name)
	}
}

func TestPasswordRefused(t *testing.T) {
	for name, password := range map[string]string{
		"empty": "", "short": "tomatoes", "long": strings.Repeat("tomato", 40), "one letter": "aaaaaaaaaaaa",
	} {
		_, err := HashPassword(password)
		assert.ErrorIs(t, err, ErrPassword, name)
	}
}

func TestBadge(t *testing.T) {
	seen := map[string]bool{}
	letters := map[rune]bool{}
	for range 500 {
		code := NewBadge()
		require.True(t, IsBadge(code), code)
		require.False(t, seen[code])
		seen[code] = true
		for _, r := range code[len(BadgePrefix):] {
			letters[r] = true
		}
	}
	assert.Len(t, letters, len(badgeLetters), "every letter comes up")
	for _, text := range []string{"", "PJB", "GCC-000001-3", NewBadge()[:20], NewBadge() + "2", "PJB" + strings.Repeat("A", 20)} {
		assert.False(t, IsBadge(text), text)
	}
	assert.Len(t, HashBadge(NewBadge()), 64)
}
