package sequence

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"padjig/fixture"
	"padjig/fixture/quantity"
)

func read(step, fed, grounded string, ohm quantity.Ohm, over bool) Insulation {
	split := func(s string) (out []string) {
		for _, r := range s {
			out = append(out, string(r))
		}
		return out
	}
	return Insulation{Step: step, Feed: split(fed), Ground: split(grounded), Ohm: fixture.Resistance{Value: ohm, AtLeast: over}}
}

func TestWeakestPair(t *testing.T) {
	groups := []Insulation{
		read("rest", "bd", "ac", 3e8, false), read("rest", "cd", "ab", 2e9, true), read("rest again", "bd", "ac", 1e6, false),
	}
	b, known := Weakest(groups, "rest")
	assert.True(t, known)
	assert.Equal(t, Bound{Lines: [2]string{"a", "b"}, Ohm: fixture.Resistance{Value: 3e8}}, b, "on different sides of one group only")
	b, _ = Weakest(append(groups, read("rest", "c", "d", 4e8, false), read("rest", "d", "c", 5e8, false)), "rest")
	assert.Equal(t, Bound{Lines: [2]string{"c", "d"}, Ohm: fixture.Resistance{Value: 4e8}, Alone: true}, b, "read by itself, the smaller way")
	_, known = Weakest(groups, "rectangles")
	assert.False(t, known)

	// Where diodes make both polarities be read, the worse one counts; else the better reading bounds.
	one := []Insulation{read("rest", "a", "bc", 5e6, false), read("rest", "b", "ac", 9e8, false)}
	b, _ = Weakest(one[:1], "rest")
	assert.Equal(t, quantity.Ohm(5e6), b.Ohm.Value)
	bound, _ := between(one, "a", "b")
	assert.Equal(t, quantity.Ohm(9e8), bound.Ohm.Value)
	bound, _ = between(append(one, read("rest", "bc", "a", 9e8, false)), "a", "b")
	assert.Equal(t, quantity.Ohm(5e6), bound.Ohm.Value)

	assert.Equal(t, "over 2 Gohm", Bound{Ohm: fixture.Resistance{Value: 2.09e9, AtLeast: true}}.Said())
	assert.Equal(t, "300 Mohm", Bound{Ohm: fixture.Resistance{Value: 3e8}}.Said())
}

// Whatever lies between lines, and however they are put into groups: no bound is above what
// lies there.
func TestNoBoundIsTooHigh(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := []string{"a", "b", "c", "d", "e"}
		mega := rapid.SliceOfN(rapid.IntRange(1, 1000), 25, 25).Draw(t, "Mohm")
		between5 := func(i, j int) float64 { return 1e6 * float64(mega[5*min(i, j)+max(i, j)]) }
		var all []Insulation
		for bit := range 3 {
			one := Insulation{Step: "rest"}
			conducts := 0.0
			for i, line := range lines {
				if i>>bit&1 == 0 {
					one.Ground = append(one.Ground, line)
				} else {
					one.Feed = append(one.Feed, line)
				}
				for j := range i {
					if i>>bit&1 != j>>bit&1 {
						conducts += 1 / between5(i, j)
					}
				}
			}
			one.Ohm.Value = quantity.Ohm(1 / conducts)
			all = append(all, one)
		}
		for i, a := range lines {
			for j := range i {
				bound, known := between(all, lines[j], a)
				assert.True(t, known)
				assert.LessOrEqual(t, float64(bound.Ohm.Value), between5(i, j)*(1+1e-9))
			}
		}
	})
}
