package store

import (
	"crypto/rand"
	"database/sql/driver"
	"encoding/binary"
	"fmt"
	"time"

	"github.com/google/uuid"
)

// ID names a run for ever and everywhere: a UUID of version 7 (RFC 9562, 5.7).
// IDs of one store ascend with the sequence number.
type ID uuid.UUID

// ParseID reads the canonical text of an ID.
func ParseID(text string) (ID, error) {
	u, err := uuid.Parse(text)
	if err != nil {
		return ID{}, fmt.Errorf("run id %q: %w; copy it from padjig unit --json", text, err)
	}
	return ID(u), nil
}

// String gives the canonical text, such as 017f22e2-79b0-7cc3-98c4-dc0c0c07398f.
func (id ID) String() string { return uuid.UUID(id).String() }

// MarshalText gives the canonical text.
func (id ID) MarshalText() ([]byte, error) { return []byte(id.String()), nil }

// UnmarshalText reads the canonical text.
func (id *ID) UnmarshalText(text []byte) error {
	parsed, err := ParseID(string(text))
	if err == nil {
		*id = parsed
	}
	return err
}

// IsZero reports whether id names nothing.
func (id ID) IsZero() bool { return id == ID{} }

// Time is the wall clock the id was made by, to the millisecond. It says when,
// not in what order.
func (id ID) Time() time.Time { return time.UnixMilli(int64(id.Milli())).UTC() }

// Value stores the 16 bytes.
func (id ID) Value() (driver.Value, error) { return id[:], nil }

// Scan reads the 16 bytes.
func (id *ID) Scan(stored any) error {
	b, ok := stored.([]byte)
	if !ok || len(b) != len(id) {
		return fmt.Errorf("run id of %T is not 16 bytes", stored)
	}
	copy(id[:], b)
	return nil
}

// NextID makes an id from the clock that is larger than last. When the clock
// has not moved on since last, or was set back, the random part counts up
// instead (RFC 9562, 6.2, method 2).
func NextID(now time.Time, last ID) ID {
	milli := uint64(max(now.UnixMilli(), 0))
	if milli > last.Milli() {
		return MakeID(milli, uint16(random()), random())
	}
	low := last.low() + 1 + random()>>34 // a step of up to 2^30
	high := last.high()
	if low>>62 != 0 {
		high++
	}
	if high>>12 != 0 {
		return MakeID(last.Milli()+1, 0, random())
	}
	return MakeID(last.Milli(), high, low)
}

// MakeID puts 48 bits of time, 12 bits and 62 bits together with the version
// and the variant.
func MakeID(milli uint64, high uint16, low uint64) ID {
	var id ID
	binary.BigEndian.PutUint64(id[:8], milli<<16|0x7000|uint64(high&0xfff))
	binary.BigEndian.PutUint64(id[8:], 1<<63|low&(1<<62-1))
	return id
}

// Milli is the time of the id in milliseconds since 1970.
func (id ID) Milli() uint64 { return binary.BigEndian.Uint64(id[:8]) >> 16 }

func (id ID) high() uint16 { return binary.BigEndian.Uint16(id[6:8]) & 0xfff }

func (id ID) low() uint64 { return binary.BigEndian.Uint64(id[8:]) & (1<<62 - 1) }

func random() uint64 {
	var b [8]byte
	rand.Read(b[:]) // never fails, by its documentation
	return binary.BigEndian.Uint64(b[:])
}

// Before reports whether id is older than another of the same store.
func (id ID) Before(other ID) bool { return string(id[:]) < string(other[:]) }

// Later is the newer of two ids.
func Later(a, b ID) ID {
	if a.Before(b) {
		return b
	}
	return a
}
