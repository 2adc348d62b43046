package account

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"strings"

	"golang.org/x/crypto/argon2"
)

// What an Argon2id costs: the second choice of RFC 9106, section 4 (from
// memory), with two lanes for a bench PC of two cores. A hash says its own, so
// these may rise.
const (
	memory  = 64 * 1024 // KiB
	passes  = 3
	threads = 2
	keySize = 32
	salt    = 16
)

// The length of passwords, in characters: short ones are guessed, and very long
// ones are no password but an attack.
const (
	ShortestPassword = 10
	LongestPassword  = 200
)

// ErrPassword is returned for a password that cannot be taken.
var ErrPassword = errors.New("password refused")

// PasswordRefused says why a password cannot be taken; it is an [ErrPassword].
type PasswordRefused struct {
	Why         string // "short", "long", "same"
	Have, Bound int    // characters
}

func (r *PasswordRefused) Error() string {
	switch r.Why {
	case "short":
		return fmt.Sprintf("%v: %d characters, at least %d are needed", ErrPassword, r.Have, r.Bound)
	case "long":
		return fmt.Sprintf("%v: %d characters, at most %d are taken", ErrPassword, r.Have, r.Bound)
	}
	return fmt.Sprintf("%v: one character over and over", ErrPassword)
}

// Is makes it one of those that cannot be taken.
func (r *PasswordRefused) Is(target error) bool { return target == ErrPassword }

// atOnce keeps many guesses at a time from taking the memory the line needs.
var atOnce = make(chan struct{}, 2)

// HashPassword gives what is kept of a password.
func HashPassword(password string) (string, error) {
	switch n := len([]rune(password)); {
	case n < ShortestPassword:
		return "", &PasswordRefused{"short", n, ShortestPassword}
	case n > LongestPassword:
		return "", &PasswordRefused{"long", n, LongestPassword}
	case strings.Count(password, password[:1]) == len(password):
		return "", &PasswordRefused{"same", n, ShortestPassword}
	}
	grain := make([]byte, salt)
	rand.Read(grain)
	return encode(grain, derive(password, grain, memory, passes, threads)), nil
}

func derive(password string, salt []byte, memory, passes uint32, threads uint8) []byte {
	atOnce <- struct{}{}
	defer func() { <-atOnce }()
	return argon2.IDKey([]byte(password), salt, passes, memory, threads, keySize)
}

func encode(salt, key []byte) string {
	b := base64.RawStdEncoding.EncodeToString
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, memory, passes, threads, b(salt), b(key))
}

// CheckPassword reports whether a password is the one of which hash is kept. An
// empty hash takes as long and is never right.
func CheckPassword(hash, password string) bool {
	var version int
	var m, t uint32
	var p uint8
	if len(password) > 4*LongestPassword {
		return false
	}
	parts := strings.Split(hash, "$")
	if len(parts) != 6 || parts[1] != "argon2id" {
		derive(password, make([]byte, salt), memory, passes, threads)
		return false
	}
	_, err1 := fmt.Sscanf(parts[2], "v=%d", &version)
	_, err2 := fmt.Sscanf(parts[3], "m=%d,t=%d,p=%d", &m, &t, &p)
	grain, err3 := base64.RawStdEncoding.DecodeString(parts[4])
	key, err4 := base64.RawStdEncoding.DecodeString(parts[5])
	if errors.Join(err1, err2, err3, err4) != nil || version != argon2.Version || t == 0 || p == 0 {
		return false
	}
	return subtle.ConstantTimeCompare(key, derive(password, grain, m, t, p)) == 1
}
