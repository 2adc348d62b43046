package roles

import (
	"crypto/hmac"
	"crypto/pbkdf2"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
)

// scheme is how passwords are checked, RFC 7677.
const scheme = "SCRAM-SHA-256"

// rounds is how often a password is hashed: what PostgreSQL does itself.
const rounds = 4096

// leastPassword is how many characters one has. A program types it, not a person.
const leastPassword = 20

// ErrPassword is a password that is none.
var ErrPassword = fmt.Errorf("a password has %d to 200 characters, each a letter, a digit or a sign of ASCII", leastPassword)

// Verifier is what the server keeps of a password, as PostgreSQL writes it. Made here, the password itself goes
// over no line and into no log.
func Verifier(password string) (string, error) {
	if len(password) < leastPassword || len(password) > 200 {
		return "", ErrPassword
	}
	for _, c := range []byte(password) {
		if c <= ' ' || c > '~' {
			return "", ErrPassword
		}
	}
	salt := make([]byte, 16)
	if _, err := rand.Read(salt); err != nil {
		return "", errors.Join(errors.New("make salt"), err)
	}
	salted, err := pbkdf2.Key(sha256.New, password, salt, rounds, sha256.Size)
	if err != nil {
		return "", err
	}
	stored := sha256.Sum256(keyed(salted, "Client Key"))
	in := base64.StdEncoding.EncodeToString
	return fmt.Sprintf("%s$%d:%s$%s:%s", scheme, rounds, in(salt), in(stored[:]), in(keyed(salted, "Server Key"))), nil
}

func keyed(key []byte, text string) []byte {
	m := hmac.New(sha256.New, key)
	m.Write([]byte(text)) // a hash takes everything
	return m.Sum(nil)
}
