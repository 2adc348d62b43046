package charts

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/stats/control"
	"padjig/results/stats/reference"
	"padjig/results/worked"
)

// The distance to a false alarm that is printed is that to the first signal of any panel: of the
// chart itself, over a process in order, with limits that are right.
func TestClaimOfFalseAlarms(t *testing.T) {
	for i, c := range []struct {
		asked ChartAsked
		lag   float64
	}{
		{ChartAsked{Kind: XbarS}, 0}, {ChartAsked{Kind: XbarS}, 0.4}, {ChartAsked{Kind: XbarR, Size: 3}, -0.3},
		{ChartAsked{Kind: XbarS, Rules: control.ZoneRules}, 0}, {ChartAsked{Kind: IMR}, 0}, {ChartAsked{Kind: IMR}, 0.4},
		{ChartAsked{Kind: EWMA}, 0.3}, {ChartAsked{Kind: Cusum}, 0.3},
		{ChartAsked{Kind: P, Size: 20}, 0}, {ChartAsked{Kind: NP, Size: 50}, 0}, {ChartAsked{Kind: U, Subgroup: ByHour}, 0},
	} {
		a, err := c.asked.withDefaults()
		require.NoError(t, err)
		source := rand.New(rand.NewPCG(uint64(i), 9))
		line := process{source, c.lag, source.NormFloat64()}
		base := line.points(a, 20_000)
		long := charting{Chart: Chart{ChartAsked: a}, groups: base}
		long.Baseline = len(base)
		require.NoError(t, long.setBaseline())
		said, err := long.runLengths(new(worked.Memory))
		require.NoError(t, err)
		if c.lag == 0 { // so many values show the least dependence, which 500 do not
			said = independent(t, long)
		} else {
			assert.True(t, said.Dependent)
			assert.InDelta(t, c.lag, said.Lag1, 0.05)
		}
		alarms, points := 0, 0
		for range reference.Cases(400) {
			one := charting{Chart: Chart{ChartAsked: a}, groups: line.points(a, int(4*said.Quiet))}
			one.base = long.base
			require.NoError(t, one.plot())
			first := firstSignal(one.Panels)
			points += min(first+1, len(one.groups))
			if first < len(one.groups) {
				alarms++
			}
		}
		// What is said is simulated itself, and good to about 7 %.
		what := fmt.Sprintf("%s, lag %v, said %.0f, seen %.0f", a.Kind, c.lag, said.Quiet, float64(points)/float64(alarms))
		reference.AtLeast(t, 0.93/said.Quiet, alarms, points, what)
		reference.AtMost(t, 1.07/said.Quiet, alarms, points, what)
	}
}

func independent(t *testing.T, c charting) RunLengths {
	t.Helper()
	c.groups = c.groups[:100]
	w, _, err := c.watched()
	require.NoError(t, err)
	return RunLengths{Quiet: w.RunLength(0).Mean}
}

func firstSignal(panels []Panel) int {
	first := len(panels[0].Points)
	for _, p := range panels {
		late := len(panels[0].Points) - len(p.Points) // a panel that begins with the second point
		if i := slices.IndexFunc(p.Points, func(q ChartPoint) bool { return len(q.Signals) > 0 }); i >= 0 {
			first = min(first, i+late)
		}
	}
	return first
}

// process makes values that go together with their neighbours, and counts that do not.
type process struct {
	*rand.Rand
	lag, at float64
}

func (p *process) value() float64 {
	p.at = p.lag*p.at + math.Sqrt(1-p.lag*p.lag)*p.NormFloat64()
	return 60 + 5*p.at
}

func (p *process) points(a ChartAsked, n int) []Group {
	out := make([]Group, n)
	for i := range out {
		g := &out[i]
		switch {
		case !a.Kind.Counts():
			g.Values = append(g.Values, p.value())
			for a.Kind.Subgroups() && len(g.Values) < a.Size {
				g.Values = append(g.Values, p.value())
			}
		default:
			g.Size = float64(a.Size)
			if a.Kind == U { // faults come as they come, one after another
				g.Size = float64(20 + 10*(i%3))
				for at := p.ExpFloat64(); at < 0.05*g.Size; at += p.ExpFloat64() {
					g.Count++
				}
				continue
			}
			for range int(g.Size) {
				if p.Float64() < 0.05 {
					g.Count++
				}
			}
		}
	}
	return out
}
