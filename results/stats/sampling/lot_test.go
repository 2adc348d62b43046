package sampling

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"padjig/results/stats/reference"
)

// Of 300 units 3 are bad, and 127 are tested: by hand, that none of the three is among them,
// 173/300 172/299 171/298. The binomial of a share of 1 % would say 0.99^127, 27.9 %.
func TestLotByHand(t *testing.T) {
	plan, lot := Plan{N: 127}, Lot{300, 3}
	by := 173. / 300 * 172 / 299 * 171 / 298
	of := plan.Inspect(lot)
	reference.Agrees(t, 12, by, of.Accepted)
	reference.Agrees(t, 12, by*3/300, of.Outgoing)
	reference.Agrees(t, 12, 127+(1-by)*173, of.Tested)
	assert.InDelta(t, 1, Plan{N: 300}.Inspect(Lot{300, 0}).Accepted, 1e-12)
	assert.Zero(t, Plan{N: 300}.Inspect(Lot{300, 1}).Accepted, "all of it is tested")
	assert.InDelta(t, 1, Plan{N: 20, Accept: 3}.Inspect(Lot{30, 3}).Accepted, 1e-12, "there are no more than are accepted")
	assert.Error(t, CheckSize(1))
	assert.ErrorContains(t, CheckSize(MostLot+1), "as good as endless")
}

// The design for a lot keeps both risks, no smaller sample does, and it asks for no more units
// than the design for an endless one.
func TestDesignForALot(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := Risks{
			Good: rapid.Float64Range(0.001, 0.05).Draw(t, "good"), Producer: rapid.Float64Range(0.01, 0.2).Draw(t, "producer"),
			Bad: rapid.Float64Range(0.12, 0.4).Draw(t, "bad"), Consumer: rapid.Float64Range(0.01, 0.2).Draw(t, "consumer"),
		}
		size := rapid.IntRange(2, 400).Draw(t, "size")
		plan, err := r.DesignFor(size)
		require.NoError(t, err)
		require.LessOrEqual(t, plan.N, size)
		good, bad := r.Lots(size)
		keeps := func(p Plan) bool {
			return p.Inspect(good).Accepted >= 1-r.Producer-1e-12 && p.Inspect(bad).Accepted <= r.Consumer+1e-12
		}
		assert.True(t, keeps(plan), "%+v", plan)
		for c := range plan.N - 1 {
			assert.False(t, keeps(Plan{N: plan.N - 1, Accept: c}), "%d of %d", c, plan.N-1)
		}
	})
}

// Lots are drawn from unit by unit; what was reckoned happens as often as was said. The share
// of an endless lot does not.
func TestClaimOfLots(t *testing.T) {
	source := rand.New(rand.NewPCG(5, 7))
	cases := reference.Cases(20000)
	sequential, err := NewSequential(Risks{Good: 0.01, Producer: 0.05, Bad: 0.10, Consumer: 0.10})
	require.NoError(t, err)
	for _, c := range []struct {
		plan Plan
		lot  Lot
	}{{Plan{N: 127}, Lot{300, 3}}, {Plan{N: 50, Accept: 1}, Lot{80, 4}}, {Plan{N: 110, Accept: 3}, Lot{400, 24}}} {
		accepted, decided, tested := 0, 0, 0
		bad := make([]bool, c.lot.Size)
		for i := range c.lot.Bad {
			bad[i] = true
		}
		for range cases {
			found, open := 0, true
			for n := range bad { // by chance: the next of those that are left
				i := n + source.IntN(len(bad)-n)
				bad[n], bad[i] = bad[i], bad[n]
				if bad[n] {
					found++
				}
				if n+1 == c.plan.N && found <= c.plan.Accept {
					accepted++
				}
				accept, reject := sequential.At(n + 1)
				if open {
					tested++
				}
				if open && found <= accept {
					decided++
				}
				open = open && found > accept && (reject < 0 || found < reject)
				if !open && n+1 >= c.plan.N {
					break
				}
			}
		}
		reference.Exactly(t, c.plan.Inspect(c.lot).Accepted, accepted, cases, "accepted", c)
		chance, average := sequential.ExactOf(c.lot)
		reference.Exactly(t, chance, decided, cases, "accepted in sequence", c)
		assert.InEpsilon(t, average, float64(tested)/float64(cases), 0.03)
	}
}
