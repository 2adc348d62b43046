package sampling

import (
	"math"
	"math/bits"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/results/stats/reference"
)

func TestStops(t *testing.T) {
	rule := StopRule{Window: 5, MinYield: 0.6, SameRun: 3}
	causes := []string{"", "K3 open", "", "K3 open", "K3 open", "K3 open", "", "a", "b", "c", "", "d"}
	assert.Equal(t, []Stop{
		{At: 4, Passed: 2, Window: 5},
		{At: 9, Passed: 1, Window: 5},
	}, rule.Stops(causes))
	assert.Equal(t, []Stop{{At: 5, Reason: "K3 open", Run: 3}}, StopRule{SameRun: 3}.Stops(causes))
	assert.Empty(t, rule.Stops(nil))
	assert.Empty(t, StopRule{}.Stops(causes))
}

// Rows of three heads in tosses of a fair coin: of the 2^n sequences those without one are
// counted by the tribonacci numbers 2, 4, 7, 13, 24, 44, 81, 149, 274, 504. Rows of two:
// Fibonacci's, which are the table of Feller, An Introduction to Probability Theory and Its
// Applications, volume I, XIII.7 (from memory): 0.75, 0.625, 0.5, 0.40625.
func TestRowsOfFails(t *testing.T) {
	for n, without := range map[int]float64{1: 2, 2: 4, 3: 7, 4: 13, 5: 24, 6: 44, 7: 81, 8: 149, 9: 274, 10: 504} {
		reference.Agrees(t, 12, 1-without/math.Pow(2, float64(n)), RunWithin(3, n, 0.5))
	}
	for n, without := range map[int]float64{2: 0.75, 3: 0.625, 4: 0.5, 5: 0.40625} {
		reference.Agrees(t, 12, 1-without, RunWithin(2, n, 0.5))
	}
	// Feller's approximation (7.11): 1 - (1 - p x) / ((r + 1 - r x) q) / x^(n+1), x the root of
	// 1 - x + q p^r x^(r+1) next to 1.
	const p, r, n = 0.05, 3, 400
	x := 1.0
	for range 50 {
		x = 1 + (1-p)*math.Pow(p, r)*math.Pow(x, r+1)
	}
	feller := 1 - (1-p*x)/((r+1-r*x)*(1-p))/math.Pow(x, n+1)
	assert.InEpsilon(t, feller, RunWithin(r, n, p), 1e-6)
}

// none reckons how likely no window holds so many fails, over every window there can be.
func none(s scan, trials int) float64 {
	states := map[uint]float64{}
	for window := range uint(1) << s.window {
		fails := bits.OnesCount(window)
		if fails < s.fails {
			states[window] = math.Pow(s.p, float64(fails)) * math.Pow(1-s.p, float64(s.window-fails))
		}
	}
	for range trials - s.window {
		next := map[uint]float64{}
		for window, is := range states {
			for fail, p := range []float64{1 - s.p, s.p} {
				if moved := (window<<1 | uint(fail)) & (1<<s.window - 1); bits.OnesCount(moved) < s.fails {
					next[moved] += is * p
				}
			}
		}
		states = next
	}
	total := 0.0
	for _, is := range states {
		total += is
	}
	return total
}

// Two and three windows are exact, what lies beyond and between is near.
func TestWindowsOfFails(t *testing.T) {
	for _, window := range []int{2, 5, 8} {
		for fails := 1; fails <= window; fails++ {
			for _, p := range []float64{0.02, 0.1, 0.3} {
				s := scan{window, fails, p}
				assert.InDelta(t, none(s, window), s.one(), 1e-12, "%+v", s)
				assert.InDelta(t, none(s, 2*window), s.two(), 1e-12, "%+v", s)
				assert.InDelta(t, none(s, 3*window), s.three(), 1e-12, "%+v", s)
				assert.InDelta(t, 1-none(s, 60), s.within(60), 1e-3, "%+v", s)
				assert.InDelta(t, 1-none(s, window), s.within(window), 1e-12, "%+v", s)
			}
		}
	}
}

// A line in order, simulated unit by unit with the rule that stops real ones: how many of
// many shifts are stopped is what was reckoned, within four standard deviations.
func TestFalseStopsInShifts(t *testing.T) {
	rule := StopRule{Window: 50, MinYield: 0.9, SameRun: 3}
	random := rand.New(rand.NewPCG(7, 11))
	const shifts, units = 4000, 400
	for _, yield := range []float64{0.95, 0.98} {
		var row, window int
		for range shifts {
			causes := make([]string, rule.Window-1+units)
			for i := range causes {
				if random.Float64() > yield {
					causes[i] = "key open"
				}
			}
			if len(StopRule{SameRun: rule.SameRun}.Stops(causes[rule.Window-rule.SameRun:])) > 0 {
				row++
			}
			if len(StopRule{Window: rule.Window, MinYield: rule.MinYield}.Stops(causes)) > 0 {
				window++
			}
		}
		got := rule.InShift(yield, units)
		for _, c := range []struct {
			counted int
			want    float64
		}{{row, got.SameRun}, {window, got.Yield}} {
			assert.InDelta(t, c.want, float64(c.counted)/shifts, 4*math.Sqrt(c.want*(1-c.want)/shifts)+1e-3, "yield %v", yield)
		}
		assert.GreaterOrEqual(t, got.Any, max(got.SameRun, got.Yield))
	}
	reference.Agrees(t, 5, 0.5922814, rule.InShift(0.95, units).Yield)
	assert.Zero(t, StopRule{}.InShift(0.9, units))
	assert.InDelta(t, 1, StopRule{Window: 5, MinYield: 0.6, SameRun: 3}.InShift(0, 5).Any, 1e-12)
	assert.Zero(t, StopRule{Window: 5, MinYield: 0}.InShift(0.5, 100).Yield, "no yield is below 0")
}
