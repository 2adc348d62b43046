package store

import (
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The worked example of RFC 9562, appendix A.6: 22 February 2022, 19:22:22 UTC,
// rand_a CC3, rand_b 18C4DC0C0C07398F.
func TestIDOfTheStandard(t *testing.T) {
	when := time.Date(2022, 2, 22, 19, 22, 22, 0, time.UTC)
	id := MakeID(uint64(when.UnixMilli()), 0xcc3, 0x18c4dc0c0c07398f)
	assert.Equal(t, "017f22e2-79b0-7cc3-98c4-dc0c0c07398f", id.String())
	assert.Equal(t, when, id.Time())
}

func TestIDIsAVersion7UUID(t *testing.T) {
	now := time.Date(2026, 3, 2, 7, 15, 4, 123_000_000, time.UTC)
	id := NextID(now, ID{})
	assert.Equal(t, uuid.Version(7), uuid.UUID(id).Version())
	assert.Equal(t, uuid.RFC4122, uuid.UUID(id).Variant())
	assert.Equal(t, now, id.Time())
}

func TestIDsAscendWhateverTheClockDoes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		now := time.Date(2026, 3, 2, 7, 15, 4, 0, time.UTC)
		var ids []ID
		last := ID{}
		for range 50 {
			jump := rapid.SampledFrom([]time.Duration{
				0, time.Microsecond, time.Millisecond, time.Hour, 8766 * time.Hour, -time.Millisecond, -8766 * time.Hour,
			}).Draw(t, "jump")
			now = now.Add(jump)
			last = NextID(now, last)
			ids = append(ids, last)
			if v := uuid.UUID(last).Version(); v != 7 {
				t.Fatalf("%s has version %d", last, v)
			}
		}
		if !slices.IsSortedFunc(ids, func(a, b ID) int {
			if a.Before(b) {
				return -1
			}
			return 1
		}) {
			t.Fatalf("not ascending: %v", ids)
		}
	})
}

// The random part counts over into the next millisecond when it is used up.
func TestIDCountsOver(t *testing.T) {
	now := time.UnixMilli(1_800_000_000_000)
	milli := uint64(now.UnixMilli())
	carried := NextID(now, MakeID(milli, 5, 1<<62-1))
	assert.Equal(t, milli, carried.Milli())
	assert.Equal(t, uint16(6), carried.high())
	over := NextID(now, MakeID(milli, 0xfff, 1<<62-1))
	assert.Equal(t, milli+1, over.Milli())
	before := NextID(time.Date(1960, 1, 1, 0, 0, 0, 0, time.UTC), ID{})
	assert.Zero(t, before.Milli(), "a clock before 1970")
	assert.False(t, before.IsZero())
}

func FuzzParseID(f *testing.F) {
	f.Add("017f22e2-79b0-7cc3-98c4-dc0c0c07398f")
	f.Add("")
	f.Add("urn:uuid:017F22E2-79B0-7CC3-98C4-DC0C0C07398F")
	f.Fuzz(func(t *testing.T, text string) {
		id, err := ParseID(text)
		if err != nil {
			return
		}
		again, err := ParseID(id.String())
		if err != nil || again != id {
			t.Fatalf("ParseID(%q) = %s, and back %s, %v", text, id, again, err)
		}
	})
}

func TestIDText(t *testing.T) {
	id := NextID(time.Now(), ID{})
	text, err := id.MarshalText()
	require.NoError(t, err)
	var back ID
	require.NoError(t, back.UnmarshalText(text))
	assert.Equal(t, id, back)
	assert.ErrorContains(t, back.UnmarshalText([]byte("seven")), "copy it from")
	assert.ErrorContains(t, back.Scan("seven"), "not 16 bytes")
}
