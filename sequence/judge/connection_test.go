package judge

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
	"padjig/sequence/decide"
	"padjig/sequence/product"
)

func row(values ...float64) (out []fixture.Resistance) {
	for _, v := range values {
		out = append(out, fixture.Resistance{Value: quantity.Ohm(v), U: quantity.Ohm(v / 1000)})
	}
	return out
}

var overRange = fixture.Resistance{Value: 1e10, AtLeast: true}

func TestTrend(t *testing.T) {
	for name, c := range map[string]struct {
		row  []fixture.Resistance
		want sequence.Trend
	}{
		"the same":                        {row(5e6, 5e6, 5e6, 5e6, 5e6, 5e6, 5e6, 5e6), sequence.Steady},
		"noise":                           {row(5.0e6, 5.2e6, 4.9e6, 5.1e6, 5.0e6, 4.8e6, 5.2e6, 5.0e6), sequence.Steady},
		"falls":                           {row(5.0e6, 4.9e6, 4.8e6, 4.7e6, 4.6e6, 4.5e6, 4.4e6, 4.3e6), sequence.Falling},
		"rises":                           {row(5.0e6, 5.1e6, 5.21e6, 5.3e6, 5.4e6, 5.48e6, 5.6e6, 5.7e6), sequence.Rising},
		"falls, but by less than counts":  {row(5.000e6, 4.999e6, 4.998e6, 4.997e6, 4.996e6, 4.995e6, 4.994e6, 4.993e6), sequence.Steady},
		"jumps about":                     {row(5e6, 9e6, 3e6, 8e6, 2e6, 9e6, 4e6, 7e6), sequence.Steady},
		"opened":                          {append(row(5e6, 6e6), overRange, overRange), sequence.Rising},
		"came back":                       {append([]fixture.Resistance{overRange, overRange}, row(6e6, 5e6)...), sequence.Falling},
		"beyond the range from the start": {[]fixture.Resistance{overRange, overRange, overRange}, sequence.Steady},
	} {
		assert.Equal(t, c.want, TrendOf(c.row), name)
	}
}

// sequence.Steady rows are called otherwise about as seldom as Student's t says: 0.7 %
// of them are beyond four standard deviations of a slope of six degrees of freedom.
func TestSteadyRowsAreSeldomCalledOtherwise(t *testing.T) {
	random := rand.New(rand.NewPCG(302, 6))
	const rows = 20000
	wrong := 0
	for range rows {
		var values []float64
		for range TrendReadings {
			values = append(values, 5e6*(1+0.05*random.NormFloat64()))
		}
		if TrendOf(row(values...)) != sequence.Steady {
			wrong++
		}
	}
	t.Logf("%d of %d", wrong, rows)
	assert.InDelta(t, 0.0071*rows, wrong, 5*12) // a standard deviation is 12
}

// The early end of MIL-STD-202 method 302: enough when the limit is met and the
// reading is steady or rising; and ours on the other side.
func TestDwellEndsWhenWaitingChangesNothing(t *testing.T) {
	for trend, ends := range map[sequence.Trend][3]bool{ // accepted, doubtful, rejected
		sequence.Steady: {true, true, true}, sequence.Rising: {true, false, false}, sequence.Falling: {false, false, true},
	} {
		for i, d := range []decide.Decision{decide.Accepted, decide.Doubtful, decide.Rejected} {
			assert.Equal(t, ends[i], SettledOn(trend, d), "%v, %v", trend, d)
		}
	}
}

func settingOf(t *testing.T, name string) *Setting {
	t.Helper()
	p, err := product.Load("../../testdata/products/" + name + ".yaml")
	require.NoError(t, err)
	return &Setting{Product: p, Closure: leastClosure}
}

func pairOf(a, b int, ohm quantity.Ohm) Connection {
	return Connection{A: a, B: b, Ohm: fixture.Resistance{Value: ohm}}
}

// Lines 0 and 1 are shorted, 1 and 2 too: 0 to 2 is no short of its own, and of
// the leaks from that net to line 5 one is enough.
func TestPairsCloseByWayOfOthersAreLeftOut(t *testing.T) {
	set := settingOf(t, "gcc-20")
	pairs := []Connection{
		pairOf(2, 0, 110), pairOf(1, 0, 50), pairOf(2, 1, 60), pairOf(5, 2, 3e6), pairOf(5, 0, 3.2e6), pairOf(7, 6, 2e6),
	}
	var got [][2]int
	for _, p := range set.Direct(pairs) {
		got = append(got, [2]int{p.A, p.B})
	}
	assert.Equal(t, [][2]int{{1, 0}, {2, 1}, {5, 2}, {7, 6}}, got)
}

func TestVanishedIsBeyondNoise(t *testing.T) {
	first := fixture.Resistance{Value: 1, U: 6}
	assert.False(t, Vanished(first, fixture.Resistance{Value: 10}), "within the noise of the first")
	assert.True(t, Vanished(first, fixture.Resistance{Value: 1e6}))
	assert.True(t, Vanished(fixture.Resistance{Value: 200, U: 6}, overRange))
	assert.False(t, Vanished(overRange, fixture.Resistance{Value: 2e10, AtLeast: true}), "it was never there")
}
