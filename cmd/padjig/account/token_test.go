package account

import (
	"crypto/sha256"
	"encoding/base64"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A token is 256 random bits as one text, and no other text is taken for it.
func TestTokens(t *testing.T) {
	text, hash := NewToken()
	other, _ := NewToken()
	assert.NotEqual(t, text, other)
	bits, err := base64.RawURLEncoding.DecodeString(strings.TrimPrefix(text, TokenPrefix))
	require.NoError(t, err)
	assert.Len(t, bits, 32)
	assert.Equal(t, sha256.Sum256(bits), hash)
	got, is := HashToken(text)
	assert.True(t, is)
	assert.Equal(t, hash, got)
	last := text[len(text)-1:]
	next := strings.NewReplacer("A", "B", "Q", "R", "E", "F", "U", "V", "I", "J", "Y", "Z", "M", "N", "c", "d", "g", "h", "k", "l", "o", "p",
		"s", "t", "w", "x", "0", "1", "4", "5", "8", "9").Replace(last) // the same bits for a decoder that is not strict
	require.NotEqual(t, last, next)
	for _, no := range []string{"", TokenPrefix, text + "=", text[:len(text)-1] + next, text + "A", " " + text, strings.ToUpper(text), text[:20] + "\n" + text[20:],
		strings.TrimPrefix(text, TokenPrefix)} {
		_, is := HashToken(no)
		assert.False(t, is, "%q", no)
	}
}
