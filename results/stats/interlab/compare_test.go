package interlab_test

import (
	"flag"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"padjig/results/stats/compare"
	"padjig/results/stats/interlab"
	"padjig/results/stats/reference"
)

// Five gauges on five wafers, six days each (e-Handbook 2.6.1): the scatter of the gauges' means
// as published (seen), and how far each gauge lies from the mean of all five (table of biases, from memory;
// the data reproduce it to its last digit but one).
func TestLevelsOfFiveGauges(t *testing.T) {
	spread := map[string]float64{"138": 0.02643, "139": 0.02612, "140": 0.02826, "141": 0.03038, "142": 0.02711}
	biases := map[string]map[string]float64{
		"1":    {"138": 0.02476, "139": -0.00356, "140": 0.04002, "141": 0.03938, "142": 0.00620},
		"281":  {"138": 0.01076, "139": 0.03944, "140": 0.01871, "141": -0.01072, "142": 0.03761},
		"283":  {"138": 0.01926, "139": 0.00574, "140": -0.02008, "141": 0.02458, "142": -0.00439},
		"2062": {"138": -0.01754, "139": -0.03226, "140": -0.01258, "141": -0.02802, "142": -0.00110},
		"2362": {"138": -0.03725, "139": -0.00936, "140": -0.02608, "141": -0.02522, "142": -0.03830},
	}
	rows := reference.Table(t, "handbook/mpc61_resistivity.csv")
	probes := []string{"1", "281", "283", "2062", "2362"}
	for wafer, want := range spread {
		stations := make([]interlab.Station, len(probes))
		for i, probe := range probes {
			for _, r := range rows {
				if r["run"] == "1" && r["wafer"] == wafer && r["probe"] == probe {
					// every gauge measured on its own days; nothing is taken off for them here
					stations[i].Checks = append(stations[i].Checks, interlab.Check{Value: r.Num(t, "average_ohm_cm")})
				}
			}
			require.Len(t, stations[i].Checks, 6)
		}
		c, err := interlab.Compare(stations, 0.95)
		require.NoError(t, err)
		var levels []float64
		for _, s := range c.Scores {
			levels = append(levels, s.Level)
		}
		assert.InDelta(t, want, stat.StdDev(levels, nil), 2e-5, "wafer %s", wafer)
		for i, probe := range probes {
			assert.InDelta(t, biases[probe][wafer], levels[i]-stat.Mean(levels, nil), 2e-4, "gauge %s on wafer %s", probe, wafer)
		}
	}
}

// The line within each station is that of gonum, and what all move by is taken off.
func TestSlopesAreThoseOfTheLines(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 0))
	stations := make([]interlab.Station, 4)
	slopes := make([]float64, 4)
	for i := range stations {
		var x, y []float64
		for range 9 {
			at := 100 * rng.Float64()
			x, y = append(x, at), append(y, 3+float64(i)*at/50+rng.NormFloat64())
			stations[i].Checks = append(stations[i].Checks, interlab.Check{T: at, Value: y[len(y)-1]})
		}
		_, slopes[i] = stat.LinearRegression(x, y, nil, false)
	}
	c, err := interlab.Compare(stations, 0.95)
	require.NoError(t, err)
	for i, s := range c.Scores {
		others := slices.Delete(slices.Clone(slopes), i, i+1)
		slices.Sort(others)
		assert.InDelta(t, slopes[i]-others[1], s.Slope, 1e-12)
	}
}

func TestWhatCannotBeCompared(t *testing.T) {
	one := interlab.Station{Checks: []interlab.Check{{1, 100}}}
	_, err := interlab.Compare([]interlab.Station{one}, 0.95)
	assert.Error(t, err)
	_, err = interlab.Compare([]interlab.Station{one, {}}, 0.95)
	assert.Error(t, err)
	_, err = interlab.Compare([]interlab.Station{one, one}, 1)
	assert.Error(t, err)
	_, err = interlab.Compare([]interlab.Station{one, {Checks: []interlab.Check{{1, math.NaN()}}}}, 0.95)
	assert.Error(t, err)
	c, err := interlab.Compare([]interlab.Station{one, {Checks: []interlab.Check{{2, 110}}}}, 0.95)
	require.NoError(t, err)
	assert.Equal(t, 10.0, c.Scores[1].Bias)
	assert.True(t, math.IsNaN(c.Scores[1].P), "a single check shows no scatter, so that nothing is judged")
	assert.True(t, math.IsNaN(c.Scores[1].En))
}

var plants = flag.Int("plants", 60, "plants in the campaign of stations that drift; 3000 is the full number")

// plant simulates one: the stations' errors are drawn from what they state, domes scatter as
// they do, the reference unit wears, and the stations check at times of their own.
type plant struct {
	stations, checks int
	stated           float64 // standard uncertainty, relative
	scatter          float64 // of a check, relative
	wear             float64 // of the unit in all the time
	late             bool    // the last station begins when the others are half done
	heavy            bool    // checks scatter by Student's t of 3 degrees of freedom
	shift, drift     float64 // of the first station: its bias, and what it moves by in all the time
}

func (p plant) make(rng *rand.Rand) []interlab.Station {
	list := make([]interlab.Station, p.stations)
	for i := range list {
		list[i].U = p.stated
		off := p.stated * rng.NormFloat64()
		if i == 0 {
			off += p.shift
		}
		for range p.checks {
			at := rng.Float64()
			if p.late && i == p.stations-1 {
				at = 0.5 + at/2
			}
			noise := rng.NormFloat64()
			if p.heavy {
				noise /= math.Sqrt((square(rng) + square(rng) + square(rng)) / 3)
			}
			v := off + p.wear*at + p.scatter*noise
			if i == 0 {
				v += p.drift * at
			}
			list[i].Checks = append(list[i].Checks, interlab.Check{T: at, Value: v})
		}
	}
	return list
}

// atMost is what a rate of 5 % gives in all but 1 of 10,000 campaigns of so many plants.
func atMost(n int) int { return int(math.Ceil(0.05*float64(n) + 3.72*math.Sqrt(0.05*0.95*float64(n)))) }

func square(rng *rand.Rand) float64 { v := rng.NormFloat64(); return v * v }

// found are the stations that are called different, with p adjusted for all that was looked at.
func found(t *testing.T, list []interlab.Station) (biased, moved []bool, c interlab.Comparison) {
	c, err := interlab.Compare(list, 0.95)
	require.NoError(t, err)
	var p []float64
	for _, s := range c.Scores {
		p = append(p, s.P, s.SlopeP)
	}
	holm := compare.Holm(p)
	for i := range c.Scores {
		biased, moved = append(biased, holm[2*i] < 0.05), append(moved, holm[2*i+1] < 0.05)
	}
	return biased, moved, c
}

func any(list []bool) bool {
	for _, is := range list {
		if is {
			return true
		}
	}
	return false
}

// Where all stations are what they state to be, no more than 5 of 100 plants name any of them; a
// station that reads 2 % more than the others, or moves by 2 %, is named, with its size.
func TestPlantsWithAStationThatDrifts(t *testing.T) {
	for name, p := range map[string]plant{
		"3 stations":               {stations: 3, checks: 10, stated: 0.002, scatter: 0.005},
		"8 stations":               {stations: 8, checks: 10, stated: 0.002, scatter: 0.005},
		"50 stations":              {stations: 50, checks: 6, stated: 0.002, scatter: 0.005},
		"few checks":               {stations: 5, checks: 4, stated: 0.002, scatter: 0.005},
		"the unit wears":           {stations: 5, checks: 10, stated: 0.002, scatter: 0.005, wear: 0.05},
		"it wears, one comes late": {stations: 5, checks: 10, stated: 0.002, scatter: 0.005, wear: 0.05, late: true},
		"heavy tails":              {stations: 5, checks: 10, stated: 0.002, scatter: 0.003, heavy: true},
		"nothing stated":           {stations: 5, checks: 10, scatter: 0.005},
	} {
		t.Run(name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(17, uint64(len(name))))
			n := *plants
			accused := 0
			for range n {
				biased, moved, _ := found(t, p.make(rng))
				if any(biased) || any(moved) {
					accused++
				}
			}
			assert.LessOrEqual(t, accused, atMost(n), "plants that accuse a station")
			t.Logf("%s: accused %d of %d", name, accused, n)

			p.shift = 0.02
			named, held, wrong := 0, 0, 0
			for range n {
				biased, _, c := found(t, p.make(rng))
				if biased[0] {
					named++
				}
				if any(biased[1:]) {
					wrong++
				}
				if c.Scores[0].Interval.Contains(0.02) {
					held++
				}
			}
			t.Logf("shift of 2 %%: found %d, its interval holds it %d, others accused %d, of %d", named, held, wrong, n)
			assert.LessOrEqual(t, wrong, atMost(n), "plants that accuse another station")
			assert.LessOrEqual(t, n-held, atMost(n), "intervals that do not hold the shift")
			if p.checks == 10 {
				assert.Greater(t, named, 9*n/10, "plants in which the shift is found")
			}
			p.shift, p.drift = 0, 0.04
			moves, holds := 0, 0
			for range n {
				_, moved, c := found(t, p.make(rng))
				if moved[0] {
					moves++
				}
				if c.Scores[0].Slopes.Contains(0.04) {
					holds++
				}
			}
			assert.LessOrEqual(t, n-holds, atMost(n), "intervals that do not hold the drift")
			if p.checks == 10 {
				assert.Greater(t, moves, 3*n/4, "plants in which the drift is found")
			}
			t.Logf("drift of 4 %%: found %d, its interval holds it %d, of %d", moves, holds, n)
		})
	}
}
