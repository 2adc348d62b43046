package account

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"strings"
)

// TokenPrefix is what every token begins with: so whoever looks through files for secrets finds it.
const TokenPrefix = "padjig_"

var tokenText = base64.RawURLEncoding.Strict() // one text for each token, or two would open the same door

// NewToken makes a program's token of 256 random bits, and the hash that is kept of it.
func NewToken() (text string, hash [32]byte) {
	var bits [32]byte
	rand.Read(bits[:])
	return TokenPrefix + tokenText.EncodeToString(bits[:]), sha256.Sum256(bits[:])
}

// HashToken gives what is kept of a token; false for a text that is none.
func HashToken(text string) (hash [32]byte, is bool) {
	rest, is := strings.CutPrefix(text, TokenPrefix)
	if !is {
		return hash, false
	}
	bits, err := tokenText.DecodeString(rest)
	if err != nil || len(bits) != 32 || strings.ContainsAny(rest, "\r\n") { // a decoder of base64 passes over ends of lines
		return hash, false
	}
	return sha256.Sum256(bits), true
}
