// Package notice is what a plant decides, as signed notices: their form, their chain, and what
// is wrong with one that is not to be believed.
//
// A [Notice] has a number, 1, 2, 3 ... without a gap, and names the hash of the one before it:
// together they are one [Chain], in which none can be changed, left out, doubled or put elsewhere.
// Each is signed by the key in force at its number (Ed25519, RFC 8032); the first one names the
// first key, whose fingerprint is the name of the plant and part of all that is signed, and a
// notice of kind [Rotation] names the next key. A [Head] says, signed and with its time, how many notices
// there are and which of them was the last about each product: whoever withholds the newest notices has to
// withhold every newer head as well, and that shows by its age.
//
// Nothing here has a clock, a file or a database.
package notice

import (
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/binary"
	"time"
)

// Hash is the SHA-256 of a notice with its signature.
type Hash [sha256.Size]byte

// Kind is what a notice is about.
type Kind string

// The kinds.
const (
	Beginning Kind = "beginning" // the first one: the plant's key
	Rotation  Kind = "key"       // the key that signs from the next notice on
	Release   Kind = "release"   // of a product revision
	Return    Kind = "return"    // to a revision that was in force before
	Account   Kind = "account"   // what was decided about one account
	Lots      Kind = "lots"      // of a jig and a product
	Dates     Kind = "dates"     // of a reference box or unit, or of a jig
)

// Kinds are all of them.
func Kinds() []Kind { return []Kind{Beginning, Rotation, Release, Return, Account, Lots, Dates} }

// Notice is one decision of a plant.
type Notice struct {
	Number    int64
	Kind      Kind
	Subject   string    // of Release and Return the product's code, of Account its name, of Lots and Dates what they are of
	Body      []byte    // canonical JSON, see Canonical
	Issued    time.Time // by the clock of the plant's office, to the microsecond: told, never decided by
	Before    Hash      // of the notice before, zero for the first
	Signature []byte    // of 64 bytes
}

// MostBytes is how long a body may be.
const MostBytes = 1 << 20

// The domains of what is signed: nothing signed as one is good as another.
const (
	ofNotice = "padjig plant notice 1\n"
	ofHead   = "padjig plant head 1\n"
)

// signed is what a signature is of: every field with its length, after the domain and the plant.
func (n Notice) signed(plant Fingerprint) []byte {
	e := encoding(ofNotice)
	e.bytes(plant[:])
	e.number(n.Number)
	e.bytes([]byte(n.Kind))
	e.bytes([]byte(n.Subject))
	e.bytes(n.Body)
	e.number(n.Issued.UnixMicro())
	e.bytes(n.Before[:])
	return e
}

// Hash is what the next notice names.
func (n Notice) Hash(plant Fingerprint) Hash {
	e := encoding(n.signed(plant))
	e.bytes(n.Signature)
	return sha256.Sum256(e)
}

// Sign gives the notice with its signature.
func (n Notice) Sign(plant Fingerprint, key ed25519.PrivateKey) Notice {
	n.Signature = ed25519.Sign(key, n.signed(plant))
	return n
}

// Same reports whether two notices are one: byte for byte, with their signatures.
func (n Notice) Same(o Notice) bool { return n.Hash(Fingerprint{}) == o.Hash(Fingerprint{}) }

type encoding []byte

func (e *encoding) number(n int64) { *e = binary.BigEndian.AppendUint64(*e, uint64(n)) }

func (e *encoding) bytes(b []byte) {
	*e = binary.BigEndian.AppendUint32(*e, uint32(len(b)))
	*e = append(*e, b...)
}
