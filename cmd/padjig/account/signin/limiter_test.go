package signin

import (
	"fmt"
	"net/netip"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

func from(text string) netip.Prefix { return AddressOf(text) }

func TestAddressOf(t *testing.T) {
	for given, want := range map[string]string{
		"192.0.2.7:1":                "192.0.2.7",
		"[::ffff:192.0.2.7]:1":       "192.0.2.7",
		"127.0.0.1:1":                "127.0.0.1",
		"[::1]:1":                    "::1",
		"[2001:db8:1:2:3:4:5:6]:1":   "2001:db8:1:2::/64",
		"[2001:db8:1:2:ffff::9]:2":   "2001:db8:1:2::/64",
		"[fe80::1234%eth0]:1":        "fe80::/64",
		"@":                          "invalid Prefix",
		"somebody.plant.example:123": "invalid Prefix",
	} {
		assert.Equal(t, want, addressText(from(given)), given)
	}
}

// Guesses come back evenly, and a clock set back neither gives nor takes.
func TestAllowancesComeBack(t *testing.T) {
	var l loginLimiter
	now := time.Date(2026, 11, 29, 6, 0, 0, 0, time.UTC)
	guess := func(at time.Time) bool {
		g, _ := l.password("Ines", from(Stranger), false, at)
		return g != nil
	}
	for range GuessesAtAccount {
		assert.True(t, guess(now))
	}
	assert.False(t, guess(now))
	assert.False(t, guess(now.Add(-time.Hour)), "the clock was set back")
	assert.False(t, guess(now.Add(11*time.Second)))
	assert.True(t, guess(now.Add(12*time.Second)))
	assert.False(t, guess(now.Add(13*time.Second)))
	for range GuessesAtAccount {
		assert.True(t, guess(now.Add(2*time.Hour)))
	}
	assert.False(t, guess(now.Add(2*time.Hour)))
}

// However many addresses and names guess, the memory is bounded, those that found
// no room are still held back, and who is known is not concerned.
func TestManyAddresses(t *testing.T) {
	var l loginLimiter
	now := time.Date(2026, 11, 29, 6, 0, 0, 0, time.UTC)
	looked := 0
	for i := range 50_000 {
		address := from(fmt.Sprintf("[2001:db8:%x:%x::1]:1", i>>16, i&0xffff))
		if g, _ := l.password(fmt.Sprint("name ", i), address, false, now); g != nil {
			looked++
		}
		l.badge(address, now)
	}
	assert.LessOrEqual(t, len(l.fills), mostCounters+3*GuessesFromAddress, "those that share a counter find room for a minute's guesses")
	assert.Less(t, looked, mostCounters)
	g, _ := l.password("Ines", from(AtStation), true, now)
	assert.NotNil(t, g, "the station itself")
	g, _ = l.password("Ines", from(AtLine), true, now)
	assert.NotNil(t, g, "where she was before")
	for i := range 3 * mostCounters { // a station alone, over days
		l.password(fmt.Sprint("name ", i), from(AtStation), true, now.Add(time.Duration(i)*3*time.Second))
	}
	assert.LessOrEqual(t, len(l.fills), mostCounters+3*GuessesFromAddress, "so do known ones")
	g, _ = l.password("Rosa", from(Stranger), false, now.Add(100*time.Hour))
	assert.NotNil(t, g, "what has come back makes room")
}

// What was right counts for nothing; a wrong one that was looked at meanwhile does
// not come back with it at the address.
func TestRightIsTakenBack(t *testing.T) {
	var l loginLimiter
	now := time.Date(2026, 11, 29, 6, 0, 0, 0, time.UTC)
	for range 1000 {
		g, _ := l.password("Ines", from(AtLine), true, now)
		assert.NotNil(t, g)
		g.right()
		b, _ := l.badge(from(AtLine), now)
		assert.NotNil(t, b)
		b.right()
	}
	for range GuessesFromAddress {
		g, _ := l.password("Abel", from(AtLine), true, now)
		if g == nil {
			g, _ = l.password("Ines", from(AtLine), true, now)
			assert.NotNil(t, g, "Ines is right while Abel is not")
			g.right()
		}
	}
	var none *guess
	none.right()
}
