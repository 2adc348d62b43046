package main

import (
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// motions are what somebody does with hands and head, in the letters of the keystroke-level
// model (S. K. Card, T. P. Moran, A. Newell: The keystroke-level model for user performance
// time with interactive systems, Communications of the ACM 23 (1980) 396-410, and The
// Psychology of Human-Computer Interaction, 1983, chapter 8), with a number where there are
// several: "M S H M 3K". The model holds for people who know their way and make no mistake.
// How long the station takes is not in it.
type motions string

// motionTimes are how long each takes. Those of K, M and H are the model's, K that of an average
// non-secretary typist. That of S, to aim a scanner that is in the hand and to hear it, is common
// practice, no source.
var motionTimes = map[string]time.Duration{
	"K": 280 * time.Millisecond,  // a key
	"M": 1350 * time.Millisecond, // to make up one's mind
	"H": 400 * time.Millisecond,  // the hand goes from the scanner to the keys, or back
	"S": 1500 * time.Millisecond, // a scan
}

// time is how long all of them take.
func (m motions) time() (sum time.Duration, err error) {
	for _, word := range strings.Fields(string(m)) {
		often, what := word[:len(word)-1], word[len(word)-1:]
		n := 1
		if often != "" {
			if n, err = strconv.Atoi(often); err != nil {
				return 0, fmt.Errorf("%q of %q: %w", word, m, err)
			}
		}
		took, known := motionTimes[what]
		if !known {
			return 0, fmt.Errorf("%q of %q is no motion", word, m)
		}
		sum += time.Duration(n) * took
	}
	return sum, nil
}

// hands puts motions together, by the model's rule for where somebody makes up their mind: before
// each thing that is chosen, not before what follows from it.
type hands struct {
	at   string // S: on the scanner, K: on the keys; empty: wherever they are needed
	last int    // how often the last motion was made
	made []string
}

func (h *hands) choose(what string, often int) {
	h.reach(what)
	h.made, h.last = append(h.made, "M"), 0
	h.goOn(what, often)
}

// goOn is what follows from what was chosen.
func (h *hands) goOn(what string, often int) {
	h.reach(what)
	if n := len(h.made); h.last > 0 {
		h.made = h.made[:n-1]
	}
	word := what
	if h.last += often; h.last > 1 {
		word = strconv.Itoa(h.last) + what
	}
	h.made = append(h.made, word)
}

// reach has a hand where it is needed.
func (h *hands) reach(what string) {
	if h.at != what {
		h.last = 0
		if h.at != "" {
			h.made = append(h.made, "H")
		}
	}
	h.at = what
}

func (h *hands) motions() motions { return motions(strings.Join(h.made, " ")) }

func TestKeystrokeLevelModel(t *testing.T) {
	t.Parallel()
	const ms = time.Millisecond
	for of, wants := range map[motions]time.Duration{
		"": 0, "K": 280 * ms, "12K": 3360 * ms, "M S": 2850 * ms, "M S H M 3K K": (1350 + 1500 + 400 + 1350 + 4*280) * ms,
	} {
		got, err := of.time()
		require.NoError(t, err, of)
		assert.Equal(t, wants, got, of)
	}
	for _, of := range []motions{"P", "3", "k", "M3K", "3 K"} {
		_, err := of.time()
		assert.Error(t, err, of)
	}
	var h hands
	h.choose("S", 1)
	h.choose("K", 2) // to a field
	h.goOn("K", 5)   // what stands in it
	h.goOn("K", 1)   // Enter
	h.choose("K", 1)
	h.choose("S", 1)
	h.goOn("S", 1)
	assert.Equal(t, motions("M S H M 8K M K H M 2S"), h.motions())
}
