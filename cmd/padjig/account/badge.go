package account

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"strings"
)

// BadgePrefix is what every badge's code begins with.
const BadgePrefix = "PJB"

// badgeLetters are those that keyboards of all layouts have in the same place
// and that nobody mistakes for one another: no A, M, Q, W, Y, Z, no I, L, O, no 0, 1.
const badgeLetters = "BCDEFGHJKNPRSTUVX23456789"

// badgeLength letters of 25 are 92 bits.
const badgeLength = 20

// NewBadge makes a badge's code: to be printed on the badge, and kept as
// HashBadge only.
func NewBadge() string {
	var code strings.Builder
	code.WriteString(BadgePrefix)
	raw := make([]byte, 1)
	for n := 0; n < badgeLength; {
		rand.Read(raw)
		if at := int(raw[0]); at < 256/len(badgeLetters)*len(badgeLetters) { // all letters alike
			code.WriteByte(badgeLetters[at%len(badgeLetters)])
			n++
		}
	}
	return code.String()
}

// IsBadge reports whether a scanned text is a badge's code, whoever's.
func IsBadge(text string) bool {
	rest, ok := strings.CutPrefix(text, BadgePrefix)
	return ok && len(rest) == badgeLength && strings.Trim(rest, badgeLetters) == ""
}

// IsMisreadBadge reports whether a scanned text was to be a badge's code and is none: one
// that begins like it, or one of its letters alone that lost its beginning.
func IsMisreadBadge(text string) bool {
	upper := strings.ToUpper(text)
	if IsBadge(text) {
		return false
	}
	rest, whole := strings.CutPrefix(upper, BadgePrefix)
	return whole || len(rest) >= badgeLength/2 && len(rest) < len(BadgePrefix)+badgeLength && strings.Trim(rest, badgeLetters) == ""
}

// HashBadge gives what is kept of a badge's code.
func HashBadge(code string) string {
	sum := sha256.Sum256([]byte(code))
	return hex.EncodeToString(sum[:])
}
