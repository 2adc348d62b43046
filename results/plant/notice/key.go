package notice

import (
	"crypto/ed25519"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"encoding/hex"
	"encoding/pem"
	"errors"
	"fmt"
)

// Fingerprint is the SHA-256 of a public key. That of a plant's first key is the plant's name.
type Fingerprint [sha256.Size]byte

// FingerprintOf gives that of a public key.
func FingerprintOf(key ed25519.PublicKey) Fingerprint { return sha256.Sum256(key) }

func (f Fingerprint) String() string { return hex.EncodeToString(f[:]) }

// Short is as much of it as people compare at a glance; to trust a key they compare all of it.
func (f Fingerprint) Short() string { return f.String()[:16] }

// The types of PEM blocks: PKCS #8 and SubjectPublicKeyInfo with the algorithm of RFC 8410.
const (
	privateBlock = "PRIVATE KEY"
	publicBlock  = "PUBLIC KEY"
)

// Errors of key files.
var (
	ErrNoPrivateKey = errors.New("no private Ed25519 key in PEM (PKCS #8)")
	ErrNoPublicKey  = errors.New("no public Ed25519 keys in PEM, and nothing else")
)

// NewKey makes a private key.
func NewKey() (ed25519.PrivateKey, error) {
	_, key, err := ed25519.GenerateKey(rand.Reader)
	return key, err
}

// PublicOf is the public key of a private one.
func PublicOf(key ed25519.PrivateKey) ed25519.PublicKey { return key.Public().(ed25519.PublicKey) }

// PrivatePEM is a private key as a file.
func PrivatePEM(key ed25519.PrivateKey) ([]byte, error) {
	der, err := x509.MarshalPKCS8PrivateKey(key)
	return pem.EncodeToMemory(&pem.Block{Type: privateBlock, Bytes: der}), err
}

// ReadPrivate reads a file with a private key.
func ReadPrivate(text []byte) (ed25519.PrivateKey, error) {
	block, _ := pem.Decode(text)
	if block == nil || block.Type != privateBlock {
		return nil, ErrNoPrivateKey
	}
	parsed, err := x509.ParsePKCS8PrivateKey(block.Bytes)
	key, is := parsed.(ed25519.PrivateKey)
	if err != nil || !is {
		return nil, ErrNoPrivateKey
	}
	return key, nil
}

// PublicPEM is public keys as a file, in the order in which they came into force.
func PublicPEM(keys ...ed25519.PublicKey) (text []byte, err error) {
	for _, key := range keys {
		der, err := x509.MarshalPKIXPublicKey(key)
		if err != nil {
			return nil, err
		}
		text = append(text, pem.EncodeToMemory(&pem.Block{Type: publicBlock, Bytes: der})...)
	}
	return text, nil
}

// ReadPublic reads a file with a plant's public keys: the first one names the plant, each one more is one
// that took the place of the one before.
func ReadPublic(text []byte) (keys []ed25519.PublicKey, err error) {
	for block, rest := pem.Decode(text); block != nil; block, rest = pem.Decode(rest) {
		parsed, err := x509.ParsePKIXPublicKey(block.Bytes)
		key, is := parsed.(ed25519.PublicKey)
		if err != nil || !is || block.Type != publicBlock {
			return nil, fmt.Errorf("block %d: %w", len(keys)+1, ErrNoPublicKey)
		}
		keys = append(keys, key)
	}
	if len(keys) == 0 {
		return nil, ErrNoPublicKey
	}
	return keys, nil
}
