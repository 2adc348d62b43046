package runner_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"

	"padjig/fixture/jigsim"
	"padjig/sequence"
	"padjig/sequence/decide"
	"padjig/sequence/product"
)

var riskUnits = flag.Int("riskunits", 3000, "units in the count of wrong decisions; 50000 is the full number")

// edgePad has three keys that share no line, each judged with a rule of its own.
const edgePad = `
product: EDGE-3
tail: A1 A2 A3 B1 B2 B3
lines: {direct: A1 A2 A3, common: B1 B2 B3}
keys:
  simple: {lines: A1 B1, limits: {guard: none}}
  tenth: {lines: A2 B2, limits: {guard: risk 10 %}}
  whole: {lines: A3 B3, limits: {guard: 1 U}}
limits: {contact resistance: at most 200 ohm}
`

// The process that makes these keys is centred one of its standard deviations
// inside the limit, so that decisions are often hard: one key in six is bad.
const (
	edgeLimit = 200.0
	processSD = 0.15 // three times the uncertainty of a reading
)

var edgeProcess = distuv.Normal{Mu: edgeLimit - processSD, Sigma: processSD}

// How often units are accepted though bad, and rejected though good, agrees with
// the global risks that JCGM 106 has computed for the same process, limit,
// uncertainty and guard band. Every unit lies in a jig of its own, whose
// reference resistors are off by an error of their own: within one jig errors are
// common to all readings, and only over many jigs are they the distribution that
// the uncertainty states. A reading in the guard band is taken again on the same
// jig, with the same reference, so that only its noise is new.
func TestGlobalRisks(t *testing.T) {
	p, err := product.Parse("edge.yaml", []byte(edgePad))
	require.NoError(t, err)
	counts := countDecisions(t, p, *riskUnits)
	u := counts[0].meanU() // without a guard band nothing is read again
	for k, key := range p.Keys {
		c, guard := counts[k], key.Limits.Guard
		t.Logf("guard %.3f U: readings off by %.4f ± %.4f ohm, stated %.4f", guard, c.meanError(), c.sdError(), u)
		acceptance := decide.AtMost(edgeLimit).Guarded(decide.Band(guard, u))
		once := decide.Global(edgeProcess, decide.AtMost(edgeLimit), acceptance, decide.Normal(u))
		twice := decide.Global(edgeProcess, decide.AtMost(edgeLimit), acceptance, retakenFrom(u, acceptance.High))
		agree(t, "false accept", c.falseAccept, c.units, once.Consumer, twice.Consumer)
		agree(t, "false reject", c.falseReject, c.units, once.Producer, twice.Producer)
	}
}

// agree holds a count against a probability: four standard deviations of the
// binomial distribution, and one unit, since counts are whole.
func agree(t *testing.T, what string, count, units int, once, twice float64) {
	t.Helper()
	n := float64(units)
	sd := math.Sqrt(n * twice * (1 - twice))
	t.Logf("%s: %d of %d, expected %.1f ± %.1f (%.1f for one reading): %+.1f sd", what, count, units, n*twice, sd,
		n*once, (float64(count)-n*twice)/sd)
	assert.InDelta(t, n*twice, count, 4*sd+1, what)
}

// decisions are what became of one key of all units.
type decisions struct {
	units, falseAccept, falseReject int
	errors, squares, us             float64
}

func (d *decisions) add(truth float64, key sequence.KeyResult) {
	accepted, good := key.Verdict == sequence.KeyPass, truth <= edgeLimit
	d.units++
	if accepted && !good {
		d.falseAccept++
	}
	if good && !accepted {
		d.falseReject++
	}
	off := float64(key.Closed.Value) - truth
	d.errors += off
	d.squares += off * off
	d.us += float64(key.Closed.U)
}

func (d *decisions) merge(o decisions) {
	d.units += o.units
	d.falseAccept += o.falseAccept
	d.falseReject += o.falseReject
	d.errors += o.errors
	d.squares += o.squares
	d.us += o.us
}

func (d *decisions) meanError() float64 { return d.errors / float64(d.units) }
func (d *decisions) meanU() float64     { return d.us / float64(d.units) }
func (d *decisions) sdError() float64 {
	return math.Sqrt(d.squares/float64(d.units) - d.meanError()*d.meanError())
}

// countDecisions tests units on all processors; unit i is the same whoever tests it.
func countDecisions(t *testing.T, p *product.Product, units int) []decisions {
	t.Helper()
	total, lock := make([]decisions, len(p.Keys)), sync.Mutex{}
	workers := runtime.GOMAXPROCS(0)
	t.Run("units", func(t *testing.T) {
		for w := range workers {
			t.Run(fmt.Sprint("worker ", w), func(t *testing.T) {
				t.Parallel()
				own := make([]decisions, len(p.Keys))
				for i := w; i < units; i += workers {
					edgeUnit(t, p, uint64(i), own)
				}
				lock.Lock()
				defer lock.Unlock()
				for k := range own {
					total[k].merge(own[k])
				}
			})
		}
	})
	return total
}

// edgeUnit draws a unit from the process and tests it in a new jig.
func edgeUnit(t *testing.T, p *product.Product, i uint64, counts []decisions) {
	t.Helper()
	rnd := rand.New(rand.NewPCG(*randomSeed, i))
	truths, faults := make([]float64, len(p.Keys)), make([]string, len(p.Keys))
	for k, key := range p.Keys {
		truths[k] = edgeProcess.Quantile(rnd.Float64())
		faults[k] = fmt.Sprintf("key %s high %.6f ohm", key.Label, truths[k]-float64(track(p, k)))
	}
	run := runInBubble(t, bench{product: p, faults: strings.Join(faults, "; "), seed: rnd.Uint64()})
	for _, f := range run.Findings {
		require.Equal(t, "key high", f.What, "unit %d: %v", i, run.Findings)
	}
	for k := range counts {
		require.NotNil(t, run.Keys[k].Closed, "unit %d: %s %s", i, run.Outcome, run.Reason)
		counts[k].add(truths[k], run.Keys[k])
	}
}

// retaken is the spread that makes acceptance.share the probability that a unit
// is accepted when what lies between acceptance limit and tolerance limit is
// read again. The error of the reference is common to both readings.
type retaken struct {
	distuv.Normal                    // of one reading
	reference, first, again, accepts float64
}

// repeated is how many times the samples of a first reading a second one has.
const repeated = 8

// retakenFrom splits the standard uncertainty of one reading into that of the
// reference and the noise of a first and of a repeated reading.
func retakenFrom(u, accepts float64) decide.Spread {
	reference := edgeProcess.Mu * float64(jigsim.Defaults().Ranges[0].PPM) * 1e-6
	noise := math.Sqrt(u*u - reference*reference)
	return retaken{distuv.Normal{Sigma: u}, reference, noise, noise / math.Sqrt(repeated), accepts}
}

// CDF is the probability that a unit x inside the acceptance limit is accepted:
// at once, or after a first reading between the limits by a second within. The
// common part of both readings, m, decides both but for noise.
func (r retaken) CDF(x float64) float64 {
	common := distuv.Normal{Mu: r.accepts - x, Sigma: r.reference}
	second := func(m float64) float64 {
		between := distuv.UnitNormal.CDF((edgeLimit-m)/r.first) - distuv.UnitNormal.CDF((r.accepts-m)/r.first)
		return common.Prob(m) * between * distuv.UnitNormal.CDF((r.accepts-m)/r.again)
	}
	return r.Normal.CDF(x) + quad.Fixed(second, r.accepts-8*r.first, r.accepts+8*r.again, 64, nil, 0)
}
