package gauge

import (
	"context"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"padjig/fixture/jigsim"
	"padjig/fixture/jigsim/world"
	"padjig/fixture/link"
	"padjig/fixture/simport"
	"padjig/results/answers/answerstest"
	"padjig/results/runs"
	"padjig/results/studies"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/runner"
)

var gaugeStudies = flag.Int("gaugestudies", 4, "gauge studies in an adverse world")

// A vent control of eight keys, each between a line of its own and the common one.
const vents = `
product: VENT-8
tail: K1 K2 K3 K4 K5 K6 K7 K8 COM
lines: {direct: K1 K2 K3 K4 K5 K6 K7 K8, common: COM}
keys:
  b1: K1 COM
  b2: K2 COM
  b3: K3 COM
  b4: K4 COM
  b5: K5 COM
  b6: K6 COM
  b7: K7 COM
  b8: K8 COM
nominal: {contact: 100 ohm, track: 0.2 ohm, tail: 3 ohm}
limits: {contact resistance: at most 1 kohm, insulation resistance: at least 10 Mohm}
`

// crossing is a study of parts by jigs in worlds of their own.
type crossing struct {
	parts, jigs, repeats int
	seed                 uint64
	part, around         func(i int) string // planted
	stays                bool               // a part stays in its jig from one reading to the next: its presses add up
}

// measured has every planned reading taken by a whole run on the jig it is planned for,
// stores all of them, and analyses the study as it is stored.
func (c crossing) measured(t *testing.T) Gauge {
	t.Helper()
	p, err := product.Parse("vents.yaml", []byte(vents))
	require.NoError(t, err)
	rev := runs.Revision{Code: p.Code, Title: p.Title, Label: p.Revision, Hash: p.Hash(), Definition: p.Canonical()}
	plan, err := PlanStudy(c.parts, c.jigs, c.repeats, c.seed)
	require.NoError(t, err)
	of := studies.Study{Across: studies.AcrossJigs, Repeats: c.repeats, Plan: plan, Seed: c.seed, By: "Eve"}
	for i := range c.parts {
		of.Parts = append(of.Parts, answerstest.Serial(i))
	}
	taken := make([]sequence.Run, len(plan))
	for j := range c.jigs {
		of.Appraisers = append(of.Appraisers, fmt.Sprintf("J-%d", j+1))
		synctest.Test(t, func(t *testing.T) { c.onJig(t, p, of, j, taken) })
	}
	s := answerstest.Store(t)
	of, err = s.Studies.PlanStudy(t.Context(), rev, of)
	require.NoError(t, err)
	for place, run := range taken {
		run.Started = answerstest.Begin.Add(time.Duration(place) * time.Minute)
		id, err := s.Runs.Save(t.Context(), rev, run)
		require.NoError(t, err)
		require.NoError(t, s.Studies.AddReading(t.Context(), of.Number, place, id))
	}
	of, err = s.Studies.Study(t.Context(), of.Number)
	require.NoError(t, err)
	g, err := AskGauge(t.Context(), s, GaugeAsked{Study: of})
	require.NoError(t, err)
	require.Empty(t, g.Left)
	return g
}

// onJig takes the readings that are planned for a jig.
func (c crossing) onJig(t *testing.T, p *product.Product, of studies.Study, j int, taken []sequence.Run) {
	var sims []*jigsim.Jig // one, or where parts stay, one for each
	lies := func(part int) world.Unit {
		faults, err := world.ParseFaults(strings.Join([]string{c.part(part), c.around(j)}, "; "), p.Circuit())
		require.NoError(t, err)
		return world.Unit{Keypad: p.Circuit(), Contact: p.Nominal.Contact, Faults: faults, Seed: c.seed<<8 | uint64(part)}
	}
	for i := range c.parts {
		if i > 0 && !c.stays {
			sims = append(sims, sims[0])
			continue
		}
		id := jigsim.Defaults()
		id.Serial = of.Appraisers[j]
		sim, err := jigsim.New(jigsim.Config{Identity: id, Keypad: p.Circuit(), Contact: p.Nominal.Contact, Wiring: p.Wiring(),
			Actuators: p.Pushes(), Seed: c.seed<<16 | uint64(j)<<8 | uint64(i)})
		require.NoError(t, err)
		require.NoError(t, sim.Load(lies(i)))
		sims = append(sims, sim)
	}
	for place, planned := range of.Plan {
		if planned.Appraiser != j {
			continue
		}
		sim := sims[planned.Part]
		if c.stays {
			sim.Reseat()
		} else {
			require.NoError(t, sim.Load(lies(planned.Part)))
		}
		jig, disconnect := simport.Connect(t, sim, link.Options{})
		way, err := runner.NewPlan(p, jig.Capabilities(), sequence.Mechanical)
		require.NoError(t, err)
		run, err := way.For(sequence.GaugeStudy).Run(context.Background(), jig, sequence.Unit{Serial: of.Parts[planned.Part], Attempt: 1, Started: time.Now()}, nil)
		disconnect()
		require.NoError(t, err, "%s", run.Reason)
		require.Equal(t, sequence.Pass, run.Outcome, "%v", run.Findings)
		taken[place] = run
	}
}

// covered counts intervals that contain what was planted.
type covered struct{ all, inside int }

func (c *covered) add(k KeyGauge, code string, truth float64) {
	for _, part := range k.Components {
		if part.Code == code {
			c.all++
			if part.SD.Low <= truth && truth <= part.SD.High {
				c.inside++
			}
		}
	}
}

// holds asserts that the share may well be the confidence that is stated: the exact binomial
// interval (Clopper and Pearson 1934), with 1 % of error, contains it. An interval that
// is known to be conservative may cover more.
func (c *covered) holds(t *testing.T, confidence float64, conservative bool, what string) {
	t.Helper()
	k, n := float64(c.inside), float64(c.all)
	low, high := 0.0, 1.0
	if c.inside > 0 {
		low = distuv.Beta{Alpha: k, Beta: n - k + 1}.Quantile(0.005)
	}
	if c.inside < c.all {
		high = distuv.Beta{Alpha: k + 1, Beta: n - k}.Quantile(0.995)
	}
	t.Logf("%-60s %d of %d intervals of %.0f %%: %.1f %% (%.1f to %.1f)", what, c.inside, c.all, 100*confidence, 100*k/n, 100*low, 100*high)
	assert.GreaterOrEqual(t, high, confidence, what)
	if !conservative {
		assert.LessOrEqual(t, low, confidence, what)
	}
}

// scattering are the standard deviations of six of the keys, from press to press, in
// percent. The other two are what the meter itself makes of a contact that stays.
var scattering = [...]float64{0, 0, 0.2, 0.5, 1, 2, 5, 10}

// scatters plants a part: contacts of 90 to 110 ohm, which scatter.
func scatters(own []float64, more string) string {
	var text []string
	for k, percent := range scattering {
		text = append(text, fmt.Sprintf("key b%d high %.4f ohm", k+1, own[k]))
		if percent > 0 {
			text = append(text, fmt.Sprintf("key b%d scatters %g %%", k+1, percent))
		}
		if more != "" {
			text = append(text, fmt.Sprintf("key b%d %s", k+1, more))
		}
	}
	return strings.Join(text, "; ")
}

func drawParts(rnd *rand.Rand, parts int) [][]float64 {
	own := make([][]float64, parts)
	for p := range own {
		for range scattering {
			own[p] = append(own[p], 90+20*rnd.Float64())
		}
	}
	return own
}

// rms is the root of the mean square of a key's contacts: contacts that scatter by a part
// of what they have leave this times that part in the error's mean square (derived).
func rms(own [][]float64, key int) float64 {
	sum := 0.0
	for _, part := range own {
		sum += part[key] * part[key]
	}
	return math.Sqrt(sum / float64(len(own)))
}

// The spread from press to press that is planted is found again within its interval, as
// often as the interval says, whatever surrounds the jigs; what the meter adds is far
// less, and is seen where nothing scatters. Jigs whose references are off and have drifted
// by different amounts differ: that is found as reproducibility, and not as repeatability.
func TestPressesAreToldFromTheMeterInAnAdverseWorld(t *testing.T) {
	// Standard deviations between jigs, in ppm: what each states of its references, what one is
	// built with of the drift that it states as a bound of 100, and what is planted.
	const references, built, drifts = 250, 58, 60
	var press, jigs covered
	for seed := range uint64(*gaugeStudies) {
		rnd := rand.New(rand.NewPCG(seed, 11))
		c := crossing{parts: 5, jigs: 3, repeats: 2, seed: seed}
		own := drawParts(rnd, c.parts)
		c.part = func(p int) string { return scatters(own[p], "") }
		var around []string
		for range c.jigs {
			around = append(around, fmt.Sprintf("references drift %.1f ppm; inputs take %.3f nA; clamps leak %.3f nA; probes give %.1f uV; "+
				"converter shifts %.1f uV; voltage off %.3f %%; mains 50 Hz couples 5 nA; diodes at 40 C; humidity 60 %%",
				drifts*min(max(rnd.NormFloat64(), -3), 3), 0.04*rnd.Float64(), 0.04*rnd.Float64(), 20*rnd.Float64(), 50*rnd.Float64(), 0.1*rnd.Float64()))
		}
		c.around = func(j int) string { return around[j] }
		g := c.measured(t)
		for key, percent := range scattering {
			k := g.Rows[key]
			if percent == 0 {
				assert.Less(t, k.RepeatSD, 0.1*scattering[2]/100*rms(own, key), "what the meter adds")
				continue
			}
			press.add(k, "repeatability", percent/100*rms(own, key))
		}
		jigs.add(g.Rows[0], "reproducibility", math.Hypot(math.Hypot(drifts, built), references)*1e-6*rms(own, 0))
	}
	press.holds(t, 0.95, false, "from press to press")
	jigs.holds(t, 0.95, true, "from jig to jig")
}

// A contact that frets has more with each press. A study sees that as spread from press to
// press, since it knows of no order among repeats: the variance of 1 to r comes on top,
// r (r + 1) / 12 times the square of the step (derived). It does not tell the two apart.
func TestFrettingIsSeenAsRepeatability(t *testing.T) {
	const step, repeats = 3.0, 3 // percent
	var found covered
	for seed := range uint64(*gaugeStudies) {
		rnd := rand.New(rand.NewPCG(seed, 12))
		c := crossing{parts: 4, jigs: 2, repeats: repeats, seed: seed, stays: true}
		own := drawParts(rnd, c.parts)
		c.part = func(p int) string { return scatters(own[p], fmt.Sprintf("frets %g %% each press", step)) }
		c.around = func(int) string { return "inputs take 0.1 nA; clamps leak 0.05 nA" }
		g := c.measured(t)
		for key, percent := range scattering {
			truth := math.Hypot(percent, step*math.Sqrt(repeats*(repeats+1)/12.0)) / 100 * rms(own, key)
			if percent >= step {
				found.add(g.Rows[key], "repeatability", truth)
				continue
			}
			// Steps alike in every cell do not scatter as chance does: no interval, but the size.
			assert.InEpsilon(t, truth, g.Rows[key].RepeatSD, 0.5)
		}
	}
	found.holds(t, 0.95, true, "with fretting on top")
}
