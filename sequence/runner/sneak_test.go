package runner_test

import (
	"fmt"
	"math"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/fixture/simport"
)

// With a neighbour stuck the other keys read as they do on the same unit
// without it: the line it leads to floats, so no guard drives current past the
// reference. The neighbour stands on the row, on the column, and on neither.
func TestStuckNeighbourDoesNotShiftReadings(t *testing.T) {
	for _, stuck := range []string{"8", "4", "5", "MIST"} {
		synctest.Test(t, func(t *testing.T) {
			p := load(t, "gcc-20")
			good, _, err := bench{product: p, seed: 21}.run(t)
			require.NoError(t, err)
			run, _, err := bench{product: p, seed: 21, faults: fmt.Sprintf("key %s stuck 20 ohm", stuck)}.run(t)
			require.NoError(t, err)
			require.Len(t, run.Findings, 1, "%v", run.Findings)
			for i, key := range run.Keys {
				if key.Closed == nil {
					assert.Equal(t, stuck, key.Key, "every other key is read")
					continue
				}
				want := good.Keys[i].Closed
				assert.InDelta(t, float64(want.Value), float64(key.Closed.Value),
					2*math.Hypot(float64(want.U), float64(key.Closed.U)), "key %s beside %s", key.Key, stuck)
			}
		})
	}
}

// What the guards cannot keep out when a neighbour closes without being known,
// against the simulated jig: key 7 is read with a second contact planted by an
// actuator that holds the worst neighbour down.
func TestWorstNeighbourIsWhatTheJigReads(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := bench{product: load(t, "gcc-20"), seed: 21}
		jig, disconnect := simport.Connect(t, b.simulate(t), link.Options{})
		plan := b.plan(t, jig)
		k := b.product.Key("7")
		neighbour, shift, err := plan.WorstNeighbour(k)
		require.NoError(t, err)
		require.GreaterOrEqual(t, neighbour, 0)
		alone := readHeld(t, jig, b, k)
		both := readHeld(t, jig, b, k, neighbour)
		disconnect()
		got := float64(both.Value - alone.Value)
		t.Logf("%s beside 7: computed %v, read %.3f ohm (%v, %v)", b.product.Keys[neighbour].Label, shift, got, alone, both)
		// The contacts differ from nominal by some 10 % from key to key.
		assert.InEpsilon(t, float64(shift), got, 0.25)
	})
}

// readHeld presses some keys and reads the first on the lowest range, all other
// lines guarded.
func readHeld(t *testing.T, jig *fixture.Jig, b bench, keys ...int) fixture.Resistance {
	t.Helper()
	caps := jig.Capabilities()
	r := fixture.NewRoutine(caps)
	for _, k := range keys {
		r.Press(b.product.Keys[k].Actuator)
	}
	r.Wait(2 * caps.TravelDown)
	key := b.product.Keys[keys[0]]
	feed, ground := b.product.Lines[key.A].Pin-1, b.product.Lines[key.B].Pin-1
	stage := fixture.Stage{Feed: []int{feed}, Ground: []int{ground}}
	for _, l := range b.product.Lines {
		if c := l.Pin - 1; c >= 0 && c != feed && c != ground {
			stage.Guard = append(stage.Guard, c)
		}
	}
	r.Stage(stage)
	slot := r.Read(feed, ground, 64)
	r.ReleaseAll()
	r.Wait(2 * caps.TravelUp)
	var out fixture.Resistance
	err := jig.Perform(t.Context(), []*fixture.Routine{r}, func(_ int, d fixture.Done) error {
		out = d.Resistance(slot)
		return nil
	})
	require.NoError(t, err)
	return out
}
