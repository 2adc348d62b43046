package notice

import (
	"crypto/ed25519"
	"encoding/hex"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"time"
)

// KeyBody is the body of Beginning and Rotation.
type KeyBody struct {
	Key string `json:"key"` // the public key, hexadecimal
}

// Public is the key itself.
func (b KeyBody) Public() (ed25519.PublicKey, error) {
	key, err := hex.DecodeString(b.Key)
	if err != nil || len(key) != ed25519.PublicKeySize {
		return nil, errors.New("the key is not 32 bytes in hexadecimal")
	}
	return key, nil
}

// ReleaseBody is the body of Release and Return: a revision as it was released at the office, with
// the names of those who answer for it.
type ReleaseBody struct {
	Label      string `json:"label"`
	Hash       string `json:"hash"`   // of its meaning, hexadecimal
	Source     string `json:"source"` // the product file, whole
	By         string `json:"by"`
	Reason     string `json:"reason"`
	FromSerial string `json:"from_serial"` // of the first unit that may be tested by it; empty: every unit may
	Approved   string `json:"approved"`    // by whom, where it lets more through; else empty
}

// AccountBody is what was decided about an account since the notice before of that account.
type AccountBody struct {
	Events []AccountEvent `json:"events"`
}

// AccountEvent is one decision, of a kind of results/accounts. There is never a password or the
// code of a badge in it.
type AccountEvent struct {
	Kind   string `json:"kind"`
	Role   string `json:"role"`
	Secret string `json:"secret"` // Argon2id of a password, SHA-256 of the code of a badge
	By     string `json:"by"`
	At     int64  `json:"at_us"`
}

// LotsBody is a change of lots on a jig, for a product.
type LotsBody struct {
	Jig       string            `json:"jig"`
	Product   string            `json:"product"`
	Simulated bool              `json:"simulated"`
	Lots      map[string]string `json:"lots"` // by material; those that change
	By        string            `json:"by"`
}

// DatesBody says until when something that others are compared with may be used.
type DatesBody struct {
	Of          string `json:"of"`          // one of DatesOf
	Due         string `json:"due"`         // the last day, such as 2026-11-30
	Certificate string `json:"certificate"` // its number or where it lies
	By          string `json:"by"`
}

// DatesOf are what dates are of.
func DatesOf() []string { return []string{"box", "unit", "jig"} }

// Due is the last day on which it may be used.
func (b DatesBody) LastDay() (time.Time, error) { return time.Parse(time.DateOnly, b.Due) }

// AsKey, AsRelease, AsAccount, AsLots and AsDates read the body of a notice of their kind.
func (n Notice) AsKey() (b KeyBody, err error)         { return b, read(n.Body, &b) }
func (n Notice) AsRelease() (b ReleaseBody, err error) { return b, read(n.Body, &b) }
func (n Notice) AsAccount() (b AccountBody, err error) { return b, read(n.Body, &b) }
func (n Notice) AsLots() (b LotsBody, err error)       { return b, read(n.Body, &b) }
func (n Notice) AsDates() (b DatesBody, err error)     { return b, read(n.Body, &b) }

// OfProduct reports whether units of a product must not be tested before the notice is known.
func (n Notice) OfProduct() bool { return n.Kind == Release || n.Kind == Return }

// hashed are the secrets as they may be told: a PHC string of Argon2id, or a SHA-256.
var hashed = regexp.MustCompile(`^(\$argon2id\$.+|[0-9a-f]{64})$`)

// sensible says everything that is wrong with what a notice says.
func (n Notice) sensible() []error {
	var wrong []error
	need := func(good bool, format string, args ...any) {
		if !good {
			wrong = append(wrong, fmt.Errorf(format, args...))
		}
	}
	var err error
	switch n.Kind {
	case Beginning, Rotation:
		var b KeyBody
		if b, err = n.AsKey(); err == nil {
			_, err = b.Public()
		}
		need(n.Subject == "", "a key is of nothing")
	case Release, Return:
		var b ReleaseBody
		b, err = n.AsRelease()
		for name, value := range map[string]string{"source": b.Source, "by": b.By, "reason": b.Reason, "subject": n.Subject} {
			need(err != nil || value != "", "%s is empty", name)
		}
		need(err != nil || len(b.Hash) == hex.EncodedLen(len(Hash{})), "the hash is no SHA-256")
	case Account:
		var b AccountBody
		b, err = n.AsAccount()
		need(n.Subject != "", "no name")
		need(err != nil || len(b.Events) > 0, "no events")
		for _, e := range b.Events {
			need(e.By != "", "nobody decided")
			secret := e.Kind == "password" || e.Kind == "badge"
			need(slices.Contains([]string{"role", "password", "badge", "closed", "locked", "unlocked"}, e.Kind), "kind %q", e.Kind)
			need((e.Kind == "role") == (e.Role != "") && (e.Role == "" || slices.Contains([]string{"operator", "quality", "returns", "engineer"}, e.Role)), "role %q", e.Role)
			need(!secret && e.Secret == "" || secret && hashed.MatchString(e.Secret), "a secret that is no hash")
		}
	case Lots:
		var b LotsBody
		b, err = n.AsLots()
		need(err != nil || b.Jig != "" && b.Product != "" && b.By != "" && len(b.Lots) > 0, "jig, product, lots or who decided is missing")
	case Dates:
		var b DatesBody
		if b, err = n.AsDates(); err == nil {
			_, err = b.LastDay()
		}
		need(n.Subject != "" && (err != nil || slices.Contains(DatesOf(), b.Of) && b.By != ""), "what it is of, or who decided, is missing")
	}
	if err != nil {
		wrong = append(wrong, err)
	}
	return wrong
}
