package notice

import (
	"bytes"
	"crypto/ed25519"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Code says what is wrong with a notice or a head.
type Code string

// The codes.
const (
	WrongSignature Code = "signature"    // not signed by the key in force at that number, or not what was signed
	WrongNumber    Code = "number"       // not the next one: one is missing, doubled or out of order
	WrongBefore    Code = "before"       // it follows another notice than the one that is known
	WrongKind      Code = "kind"         // not one that this program knows: a newer one may
	WrongBody      Code = "body"         // it does not say what its kind has to
	WrongKey       Code = "key"          // another key than the one that is pinned
	OlderHead      Code = "older head"   // there were more notices before, or it is older than a head that is known
	OtherChain     Code = "other chain"  // the head is of other notices
	Withheld       Code = "withheld"     // the head says of more notices than could be got
	OtherOffice    Code = "other office" // these records issue notices themselves
	NotTwo         Code = "not two"      // a release lets more through, and no second person is named
	NotAsSaid      Code = "not as said"  // the product file is not what the notice says of it
)

// Mistake is one thing that is wrong.
type Mistake struct {
	Code   Code
	Number int64  // of the notice, of a head how many it says there are
	Why    string // in words, where there is more to say
}

func (m Mistake) Error() string {
	return strings.TrimSuffix(fmt.Sprintf("%s %d: %s", m.Code, m.Number, m.Why), ": ")
}

// Chain is what is known of a plant's notices up to one of them.
type Chain struct {
	Plant  Fingerprint
	Number int64               // of the last one, 0 before the first
	Hash   Hash                // of the last one
	keys   []ed25519.PublicKey // pinned, and those that notices named beyond
	used   int                 // how many of them are or were in force
}

// Begin is the chain before its first notice, with the public keys that are pinned: the first one
// names the plant.
func Begin(pinned []ed25519.PublicKey) Chain {
	return Chain{Plant: FingerprintOf(pinned[0]), keys: slices.Clone(pinned), used: 1}
}

// Keys are those that were in force up to now, the last of them is.
func (c Chain) Keys() []ed25519.PublicKey { return slices.Clone(c.keys[:c.used]) }

// Key is the one in force.
func (c Chain) Key() ed25519.PublicKey { return c.keys[c.used-1] }

// Next is the chain with one notice more, or everything that is wrong with that.
func (c Chain) Next(n Notice) (Chain, []Mistake) {
	var wrong []Mistake
	add := func(code Code, why string) { wrong = append(wrong, Mistake{code, n.Number, why}) }
	if n.Number != c.Number+1 {
		add(WrongNumber, fmt.Sprintf("expected %d", c.Number+1))
	}
	if n.Before != c.Hash {
		add(WrongBefore, "")
	}
	if !ed25519.Verify(c.Key(), n.signed(c.Plant), n.Signature) {
		add(WrongSignature, "")
	}
	if !slices.Contains(Kinds(), n.Kind) || (n.Kind == Beginning) != (n.Number == 1) {
		add(WrongKind, string(n.Kind))
	}
	for _, why := range n.sensible() {
		add(WrongBody, why.Error())
	}
	if len(wrong) > 0 {
		return c, wrong
	}
	c.Number, c.Hash = n.Number, n.Hash(c.Plant)
	if m := c.rotate(n); m != nil {
		return c, []Mistake{*m}
	}
	return c, nil
}

// rotate takes the key that a notice names. One that is pinned must be that one.
func (c *Chain) rotate(n Notice) *Mistake {
	if n.Kind != Beginning && n.Kind != Rotation {
		return nil
	}
	body, err := n.AsKey()
	key, failed := body.Public()
	if err != nil || failed != nil {
		return &Mistake{WrongBody, n.Number, "no key"} // which sensible has said before
	}
	if n.Kind == Rotation {
		if c.used == len(c.keys) {
			c.keys = append(slices.Clone(c.keys), key)
		}
		c.used++
	}
	if !bytes.Equal(c.Key(), key) {
		return &Mistake{WrongKey, n.Number, FingerprintOf(key).String()}
	}
	return nil
}

// Issue makes the next notice and signs it; the key has to be the one in force.
func (c Chain) Issue(kind Kind, subject string, body any, at time.Time, key ed25519.PrivateKey) (Notice, Chain, error) {
	text, err := Canonical(body)
	if err != nil {
		return Notice{}, c, err
	}
	n := Notice{Number: c.Number + 1, Kind: kind, Subject: subject, Body: text, Issued: at.UTC().Truncate(time.Microsecond), Before: c.Hash}.Sign(c.Plant, key)
	next, wrong := c.Next(n)
	if len(wrong) > 0 {
		return n, c, wrong[0]
	}
	return n, next, nil
}

// Head says how many notices a plant issued, and when that was so.
type Head struct {
	Count     int64
	Hash      Hash             // of the last one
	Products  map[string]int64 // the number of the last notice of each product
	Issued    time.Time        // by the clock of the plant's office
	Signature []byte
}

func (h Head) signed(plant Fingerprint) []byte {
	e := encoding(ofHead)
	e.bytes(plant[:])
	e.number(h.Count)
	e.bytes(h.Hash[:])
	e.number(h.Issued.UnixMicro())
	codes := make([]string, 0, len(h.Products))
	for code := range h.Products {
		codes = append(codes, code)
	}
	slices.Sort(codes)
	for _, code := range codes {
		e.bytes([]byte(code))
		e.number(h.Products[code])
	}
	return e
}

// Sign gives the head with its signature.
func (h Head) Sign(plant Fingerprint, key ed25519.PrivateKey) Head {
	h.Issued = h.Issued.UTC().Truncate(time.Microsecond)
	h.Signature = ed25519.Sign(key, h.signed(plant))
	return h
}

// Believed says everything that is wrong with a head, for who knows the chain up to its end as far
// as it could be got, and the head that was known before; nil where there was none.
//
// It has to be signed by the last key that is pinned, or by one that took its place: who has an
// older key only can make notices up to where that ended, and no head.
func (c Chain) Believed(h Head, known *Head) []Mistake {
	var wrong []Mistake
	add := func(code Code, why string) { wrong = append(wrong, Mistake{code, h.Count, why}) }
	if !ed25519.Verify(c.keys[len(c.keys)-1], h.signed(c.Plant), h.Signature) {
		add(WrongSignature, "")
	}
	if h.Count == c.Number && h.Hash != c.Hash {
		add(OtherChain, "")
	}
	if h.Count < c.Number || known != nil && (h.Count < known.Count || h.Issued.Before(known.Issued)) {
		add(OlderHead, "")
	}
	return wrong
}

// Missing is what a head says of that is not known: nil for nothing.
func (c Chain) Missing(h Head) *Mistake {
	if h.Count <= c.Number {
		return nil
	}
	return &Mistake{Withheld, h.Count, fmt.Sprintf("known up to %d", c.Number)}
}
