package runner_test

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"padjig/sequence/product"
)

// unseen counts, kind by kind, the planted faults after which a unit passed, and how
// many of them had to by what they are: a campaign that left the others out uncounted
// would not notice a test that has gone blind.
type unseen struct {
	planted, passed map[string]int
	chances         map[string][]float64 // of those that may stay hidden
}

func newUnseen() unseen {
	return unseen{map[string]int{}, map[string]int{}, map[string][]float64{}}
}

// add notes faults of one unit, each of which stays hidden with the given chance.
func (u *unseen) add(passed bool, kinds []string, chances ...float64) {
	all := 1.0 // a unit passes when all of its faults stay hidden
	for _, chance := range chances {
		all *= chance
	}
	for _, kind := range kinds {
		u.planted[kind]++
		if all > 0 {
			u.chances[kind] = append(u.chances[kind], all)
		}
		if passed {
			u.passed[kind]++
		}
	}
}

// most is how many faults of a kind may stay hidden, each with its own chance: as many
// come about at least once in a million campaigns. It is exact: the binomial
// distribution where all chances are alike, and none where none can hide.
func (u *unseen) most(kind string) int {
	hidden := []float64{1} // hidden[k] is the chance that k of them are
	for _, chance := range u.chances[kind] {
		hidden = append(hidden, 0)
		for k := len(hidden) - 1; k > 0; k-- {
			hidden[k] = hidden[k]*(1-chance) + hidden[k-1]*chance
		}
		hidden[0] *= 1 - chance
	}
	atLeast := 0.0
	for k := len(hidden) - 1; k > 0; k-- {
		if atLeast += hidden[k]; atLeast >= 1e-6 {
			return k
		}
	}
	return 0
}

// hold fails for each kind of which too many did not show, and gives the counts.
func (u *unseen) hold(t *testing.T) string {
	t.Helper()
	var b strings.Builder
	b.WriteString("planted, and passed all the same:\n")
	for _, kind := range slices.Sorted(maps.Keys(u.planted)) {
		fmt.Fprintf(&b, "  %-16s %6d %6d, at most %d by chance\n", kind, u.planted[kind], u.passed[kind], u.most(kind))
		assert.LessOrEqual(t, u.passed[kind], u.most(kind), "of %d units with %q so many passed", u.planted[kind], kind)
	}
	return b.String()
}

// hides is the chance that a production test does not show a fault. All that is drawn
// exceeds its limit by far more than the guard band; but a tail of two lines with one
// key between them is the same either way round.
func hides(p *product.Product, f planted) float64 {
	if f.kind == "tail reversed" && len(p.Lines) == 2 && p.Keys[0].Diode == product.NoDiode {
		return 1
	}
	return 0
}

// hidesGently is that chance at a first press. It reads no ohms behind a diode, and
// watches a contact for as long as it may bounce: openings that come less often than
// that fall into this time by chance.
func hidesGently(p *product.Product, f planted) float64 {
	switch f.kind {
	case "key high", "line cracked":
		if p.Keys[0].Diode != product.NoDiode {
			return 1
		}
	case "drops out":
		watched := p.Keys[p.Key(f.key)].Limits.Make + f.opens
		return max(0, 1-float64(watched)/float64(f.every))
	}
	return hides(p, f)
}

func TestUnseenFaultsAreBounded(t *testing.T) {
	for _, c := range []struct {
		units  int
		chance float64
		most   int
	}{
		{1000, 0, 0},    // none can hide
		{1000, 1, 1000}, // none can show
		{20, 0.5, 19},   // 20 of them 0.95 times in a million, 19 or more 20 times
		{1000, 1e-3, 9}, // nearly Poisson with mean 1: 9 or more 1.1 times in a million, 10 or more 0.1 times
	} {
		u := newUnseen()
		for range c.units {
			u.add(false, []string{"k"}, c.chance)
		}
		assert.Equal(t, c.most, u.most("k"), "%+v", c)
	}
	u := newUnseen()
	u.add(true, []string{"a", "b"}, 1, 0)
	assert.Zero(t, u.most("a"), "the other fault shows")
	assert.Equal(t, 1, u.passed["b"])
}

// opening is how long and how often a contact drops out.
type opening struct{ opens, every time.Duration }
