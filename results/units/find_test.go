package units_test

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/returns"
	"padjig/results/runs/runstest"
	"padjig/results/store"
)

// signs are what numbers of these tests are made of: letters large and small, ASCII and
// others, and what means something to a pattern.
var signs = []rune(`aAbB79-%_\*'éÉß`)

// number is one of up to four signs, so that many are alike.
func number(rng *rand.Rand) string {
	n := make([]rune, 1+rng.IntN(4))
	for i := range n {
		n[i] = signs[rng.IntN(len(signs))]
	}
	return string(n)
}

// plant is what is known of units without asking the records.
type plant struct {
	order []string            // units in the order of their runs
	last  map[string]store.ID // the last run of each
	cases map[string]int64
}

// large makes the letters a to z large and no others.
func large(s string) string {
	return strings.Map(func(r rune) rune {
		if 'a' <= r && r <= 'z' {
			r += 'A' - 'a'
		}
		return r
	}, s)
}

// holding is every unit whose number holds a part, in the order they are found.
func (p plant) holding(part string) []found {
	list, seen := []found{}, map[string]bool{}
	add := func(serial string) {
		if !seen[serial] && strings.Contains(large(serial), large(part)) {
			list = append(list, found{serial, p.last[serial], p.cases[serial]})
		}
		seen[serial] = true
	}
	for _, serial := range slices.Backward(p.order) {
		add(serial)
	}
	var came []string
	for serial := range p.cases {
		came = append(came, serial)
	}
	slices.SortFunc(came, cmp.Compare[string])
	for _, serial := range came {
		add(serial)
	}
	return list
}

type found struct {
	serial string
	run    store.ID
	open   int64
}

// made stores runs and cases of random units.
func made(t *testing.T, rng *rand.Rand, s *results.Store) plant {
	t.Helper()
	p := plant{last: map[string]store.ID{}, cases: map[string]int64{}}
	for range 60 {
		serial := number(rng)
		id, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed(serial))
		require.NoError(t, err)
		p.order, p.last[serial] = append(p.order, serial), id
	}
	for i := range 20 {
		serial := number(rng)
		if i%2 == 0 {
			serial = p.order[rng.IntN(len(p.order))]
		}
		if p.cases[serial] != 0 {
			continue // it is here already
		}
		c, err := s.Returns.OpenCase(t.Context(), serial, "GH-20", returns.Intake{
			Received: time.Date(2026, 9, 1, 8, 30, 0, 0, time.UTC), Complaint: "key works sometimes",
			Conditions: []string{"dirty"}, Customer: "Hall 4", By: "Jon",
		})
		require.NoError(t, err)
		p.cases[serial] = c.Number
	}
	return p
}

// Whatever the numbers and the part, the units found are those whose number holds it, the
// signs of a pattern being nothing but themselves, and however many runs are looked at first.
func TestFindsWhatHoldsThePart(t *testing.T) {
	for seed := range uint64(3) {
		t.Run(fmt.Sprint("seed ", seed), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(seed, 1))
			s, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "r.sqlite"))
			require.NoError(t, err)
			defer func() { require.NoError(t, s.Close()) }()
			p := made(t, rng, s)
			parts := slices.Concat(p.order, strings.Split(string(signs), ""))
			for range 200 {
				parts = append(parts, number(rng))
			}
			some := 0
			for _, part := range parts {
				want := p.holding(part)
				n := 1 + rng.IntN(20)
				s.Units.Lately(rng.IntN(2 * len(p.order)))
				list, more, err := s.Units.Find(t.Context(), part, n)
				require.NoError(t, err)
				got := []found{}
				for _, u := range list {
					got = append(got, found{u.Serial, u.Run, u.Case})
				}
				some += len(got)
				assert.Equal(t, len(want) > n, more, "%q", part)
				assert.Equal(t, want[:min(n, len(want))], got, "%q", part)
			}
			assert.Greater(t, some, len(p.order))
		})
	}
}

// What no number can hold finds nothing, and is no error: a text that was pasted by mistake,
// however long, and one with a sign at which reading a text ends.
func TestFindsNothingOfWhatIsNoNumber(t *testing.T) {
	s, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "r.sqlite"))
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	_, err = s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000007"))
	require.NoError(t, err)
	for name, part := range map[string]string{
		"long": strings.Repeat("7", 200_000), "signs": strings.Repeat("%", 40_000),
		"ends": "07\x00more", "torn": "7\xc3", "nothing": " \t",
	} {
		list, more, err := s.Units.Find(t.Context(), part, 20)
		require.NoError(t, err, name)
		assert.Empty(t, list, name)
		assert.False(t, more, name)
	}
}
