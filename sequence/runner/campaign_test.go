package runner_test

import (
	"flag"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/sequence"
	"padjig/sequence/diagnose"
	"padjig/sequence/diagnose/readings"
	"padjig/sequence/evidence"
	"padjig/sequence/product"
)

var (
	campaignUnits = flag.Int("campaign", 120, "failed units to diagnose")
	campaignPads  = flag.Int("pads", 12, "random keypads to spread them over")
	campaignSeed  = flag.Uint64("campaignseed", 1, "of the campaign")
)

// confident is the probability from which a diagnosis that is wrong counts as confident.
const confident = 0.95

// TestDiagnosisCampaign plants one or two faults of realistic size in units of random
// keypads, tests each through the whole serial path on a simulated jig, diagnoses it from
// its record, and counts how often the likeliest explanation is the truth.
//
// The readings come from the circuit solved anew for every state of every faulty unit
// (circuit.Bench, by LU factorisation), with the noise of a jig: 250 ppm of the reference
// (standard uncertainty), 20 ppm of the reference voltage per conversion, 16 bits,
// contacts that spread by 10 % (standard deviation). The diagnosis does not use that solver.
//
// An explanation that names something else is not wrong if nothing could tell the two
// apart: its faults are planted in the same unit in place of the true ones, the unit is
// tested again, and the readings must come out the same.
func TestDiagnosisCampaign(t *testing.T) {
	c := campaign{confusion: map[[2]string]int{}, unseen: newUnseen()}
	var group sync.WaitGroup
	for worker := range 2 {
		group.Go(func() {
			for pad := worker; pad < *campaignPads; pad += 2 {
				c.pad(t, uint64(pad))
			}
		})
	}
	group.Wait()
	t.Log(c.report() + c.unseen.hold(t))
	assert.Zero(t, c.undrawn, "units for which no faults were found that could be planted")
	for i, n := range c.of {
		if n.units > 0 {
			assert.GreaterOrEqual(t, n.right(), []float64{0.99, 0.90}[i], "%d fault(s)", i+1)
		}
	}
	assert.Less(t, float64(c.of[0].sure+c.of[1].sure), math.Max(0.001*float64(c.of[0].units+c.of[1].units), 1))
}

// campaign counts.
type campaign struct {
	mu        sync.Mutex
	of        [2]tally // of units with one fault, with two
	confusion map[[2]string]int
	confusing []string
	unseen    unseen // faults that did not show
	undrawn   int    // units that got no fault
}

// tally is what became of the units with so many faults.
type tally struct {
	units, named, same int // named: the true causes; same: others that read the same
	sure               int // wrong, and confident
}

func (n tally) right() float64 { return float64(n.named+n.same) / float64(n.units) }

// pad diagnoses the units of one random keypad.
func (c *campaign) pad(t *testing.T, n uint64) {
	rnd := rand.New(rand.NewPCG(*campaignSeed, n))
	p := randomProduct(t, rnd)
	for i := range (*campaignUnits + *campaignPads - 1) / *campaignPads {
		truth := drawFaults(rnd, p, 1+i%2)
		if len(truth) == 0 {
			c.mu.Lock()
			c.undrawn++
			c.mu.Unlock()
			continue
		}
		c.unit(t, bench{product: p, faults: sentences(truth), seed: rnd.Uint64()}, truth)
	}
}

func (c *campaign) unit(t *testing.T, b bench, truth []planted) {
	run := runInBubble(t, b)
	e, err := evidence.Of(run, b.product)
	require.NoError(t, err)
	c.mu.Lock()
	c.unseen.add(run.Outcome == sequence.Pass || !e.Wrong(), kinds(truth), chances(b.product, truth)...)
	c.mu.Unlock()
	if !e.Wrong() {
		return
	}
	d := diagnose.Diagnose(e)
	named := namesAll(d, truth)
	same := !named && readsTheSame(t, b, &e, d, runInBubble)
	c.mu.Lock()
	defer c.mu.Unlock()
	n := &c.of[len(truth)-1]
	n.units++
	switch {
	case named:
		n.named++
	case same:
		n.same++
	default:
		c.wrong(n, b, truth, d)
	}
	c.confuse(truth, d, named || same)
}

func (c *campaign) wrong(n *tally, b bench, truth []planted, d diagnose.Diagnosis) {
	said := fmt.Sprintf("%s with %q: P = %.3f, found %d: %s", b.product.Title, sentences(truth), d.Probability, d.Found, causesOf(d))
	if d.Probability >= confident {
		n.sure++
		said = "CONFIDENT " + said
	}
	c.confusing = append(c.confusing, said)
}

func causesOf(d diagnose.Diagnosis) string {
	var out []string
	for _, g := range d.Groups[:d.Found] {
		out = append(out, inWords.Cause(g.Causes[0]))
	}
	return strings.Join(out, "; ")
}

func foundOf(d diagnose.Diagnosis) string {
	var out []string
	for _, g := range d.Groups[:d.Found] {
		out = append(out, g.Causes[0].Plant)
	}
	return strings.Join(out, "; ")
}

// confuse counts each true fault against what was named in its stead.
func (c *campaign) confuse(truth []planted, d diagnose.Diagnosis, right bool) {
	for _, f := range truth {
		as := "nothing"
		for _, g := range d.Groups[:d.Found] {
			if f.in(g) {
				as = f.kind
				break
			}
			if !right {
				as = string(g.Causes[0].Kind)
			} else {
				as = "what reads the same"
			}
		}
		c.confusion[[2]string{f.kind, as}]++
	}
}

func (c *campaign) report() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%d keypads, seed %d\n", *campaignPads, *campaignSeed)
	for i, n := range c.of {
		if n.units > 0 {
			fmt.Fprintf(&b, "%d fault(s): %d units, %.2f %% right (%d named, %d that read the same), %d wrong, %d of them confident (%.3f %%)\n",
				i+1, n.units, 100*n.right(), n.named, n.same, n.units-n.named-n.same, n.sure, 100*float64(n.sure)/float64(n.units))
		}
	}
	fmt.Fprintf(&b, "planted -> named:\n")
	keys := slices.SortedFunc(maps.Keys(c.confusion), func(x, y [2]string) int { return strings.Compare(x[0]+x[1], y[0]+y[1]) })
	for _, k := range keys {
		fmt.Fprintf(&b, "  %-16s -> %-20s %6d\n", k[0], k[1], c.confusion[k])
	}
	slices.Sort(c.confusing)
	for _, s := range c.confusing[:min(len(c.confusing), 40)] {
		fmt.Fprintf(&b, "  wrong: %s\n", s)
	}
	return b.String()
}

// planted is one true fault: its sentence, and what a diagnosis must name.
type planted struct {
	kind, sentence string
	kinds          []diagnose.Kind
	key            string
	lines          []string // for faults of lines
	between        []string
	opening        // of a contact that drops out
}

func kinds(truth []planted) (all []string) {
	for _, f := range truth {
		all = append(all, f.kind)
	}
	return all
}

func chances(p *product.Product, truth []planted) (all []float64) {
	for _, f := range truth {
		all = append(all, hides(p, f))
	}
	return all
}

func sentences(truth []planted) string {
	var all []string
	for _, f := range truth {
		all = append(all, f.sentence)
	}
	return strings.Join(all, "; ")
}

// in reports whether a group holds the fault as one of its causes, with its place.
func (f planted) in(g diagnose.Group) bool {
	return slices.ContainsFunc(g.Causes, func(c diagnose.Cause) bool {
		switch {
		case !slices.Contains(f.kinds, c.Kind), f.key != c.Key:
			return false
		case f.between != nil && !slices.Equal(f.between, c.Between):
			return false
		case f.lines != nil:
			return slices.Equal(slices.Sorted(slices.Values(f.lines)), slices.Sorted(slices.Values(c.Lines)))
		}
		return true
	})
}

// namesAll reports whether the best explanation is the truth: every fault in a group of
// its own, and no more groups.
func namesAll(d diagnose.Diagnosis, truth []planted) bool {
	if d.Found != len(truth) {
		return false
	}
	for _, f := range truth {
		if !slices.ContainsFunc(d.Groups[:d.Found], f.in) {
			return false
		}
	}
	return true
}

// readsTheSame tests the unit again with the faults that were named in place of the true
// ones and compares all readings.
func readsTheSame(t *testing.T, b bench, e *readings.Unit, d diagnose.Diagnosis, run func(*testing.T, bench) sequence.Run) bool {
	b.faults = foundOf(d)
	other, err := evidence.Of(run(t, b), b.product)
	require.NoError(t, err)
	return slices.EqualFunc(e.Rest, other.Rest, samePair) && slices.EqualFunc(e.Seats, other.Seats, sameSeat) &&
		slices.EqualFunc(e.Held, other.Held, sameHeld) && sameKeys(e, &other) && e.Gone == other.Gone
}

func samePair(a, b readings.Pair) bool {
	return a.Lines == b.Lines && nearly(a.Ohm, b.Ohm, 0) && a.Again == b.Again
}

func sameSeat(a, b readings.Seat) bool { return a.Pin == b.Pin && a.Good == b.Good }

func sameHeld(a, b readings.Held) bool { return a.Key == b.Key && a.Lines == b.Lines }

func sameKeys(e, other *readings.Unit) bool {
	for k := range e.Keys {
		a, b := e.Keys[k], other.Keys[k]
		if a.State != b.State || a.Late != b.Late || a.Teases != b.Teases || a.Unsteady != b.Unsteady || a.Ghost != b.Ghost || a.Stray != b.Stray ||
			(a.Make == readings.Long) != (b.Make == readings.Long) || (a.Break == readings.Long) != (b.Break == readings.Long) {
			return false
		}
		if a.Closed != nil && b.Closed != nil && !nearly(*a.Closed, *b.Closed, float64(e.Product.Keys[k].Contact)) {
			return false
		}
	}
	return true
}

// nearly compares two readings: within 5 %, four standard uncertainties, and three
// standard deviations of a contact, which is how well a crack's ohms are known.
func nearly(a, b readings.Reading, contact float64) bool {
	if a.AtLeast || b.AtLeast {
		return a.AtLeast == b.AtLeast
	}
	d := math.Abs(float64(a.Value - b.Value))
	return d <= 0.05*float64(a.Value)+4*math.Hypot(float64(a.U), float64(b.U))+0.3*contact
}

// drawFaults draws n faults, no two of them the same or on the same key; of faults of how the unit lies in
// the jig there is one at most, and then alone.
func drawFaults(rnd *rand.Rand, p *product.Product, n int) []planted {
	var out []planted
	for range 200 {
		if len(out) == n {
			return out
		}
		f, alone := drawFault(rnd, p)
		if f.sentence == "" || alone && n > 1 || slices.ContainsFunc(out, func(g planted) bool { return clash(p, f, g) }) {
			continue
		}
		out = append(out, f)
	}
	return out
}

// clash reports faults of which one takes the other's place, or that are on one key: a
// line that reaches one key alone is as good as the key.
func clash(p *product.Product, f, g planted) bool {
	if f.key == "" && g.key != "" {
		f, g = g, f
	}
	if k := p.Key(f.key); k >= 0 && len(g.lines) == 1 {
		track := p.Lines[p.Line(g.lines[0])].Track
		if track[len(track)-1] == k && g.between[1] == f.key {
			return true
		}
	}
	return f.key != "" && f.key == g.key || f.kind == g.kind && slices.Equal(f.lines, g.lines) && f.lines != nil ||
		f.kind == "swapped" && g.kind == "swapped"
}

func drawFault(rnd *rand.Rand, p *product.Product) (f planted, alone bool) {
	switch rnd.IntN(20) {
	case 0, 1, 2, 3, 4, 5, 6, 7, 8, 9:
		return drawKeyFault(rnd, p), false
	case 10, 11, 12, 13, 14, 15, 16, 17:
		return drawLineFault(rnd, p), false
	case 18:
		return drawSwap(rnd, p), true
	}
	return drawSeat(rnd, p), true
}

// logarithmic draws evenly on a logarithmic scale.
func logarithmic(rnd *rand.Rand, lowest, highest float64) float64 {
	return lowest * math.Pow(highest/lowest, rnd.Float64())
}

func drawKeyFault(rnd *rand.Rand, p *product.Product) planted {
	key := p.Keys[rnd.IntN(len(p.Keys))]
	limit := float64(key.Limits.ClosedMax)
	f := planted{key: key.Label}
	as := func(kind string, kinds []diagnose.Kind, format string, args ...any) planted {
		f.kind, f.kinds, f.sentence = kind, kinds, "key "+key.Label+" "+fmt.Sprintf(format, args...)
		return f
	}
	draws := 8
	if key.Diode != product.NoDiode {
		draws = 11
	}
	switch rnd.IntN(draws) {
	case 0, 1:
		return as("key open", []diagnose.Kind{diagnose.ContactMissing}, "open")
	case 2, 3:
		return as("key high", []diagnose.Kind{diagnose.ContactDirty}, "high %.1f ohm", logarithmic(rnd, 1.1*limit, 20e3))
	case 4:
		return as("key stuck", []diagnose.Kind{diagnose.KeyStuck}, "stuck %.1f ohm", float64(key.Contact)*logarithmic(rnd, 0.6, 2))
	case 5:
		return as("key late", []diagnose.Kind{diagnose.KeyStuck}, "releases late %d ms", 60+rnd.IntN(240))
	case 6:
		edge := []string{"closing", "opening"}[rnd.IntN(2)]
		return as("bounce "+edge, []diagnose.Kind{diagnose.DomeCracked}, "bounces %d ms on %s", 10+rnd.IntN(30), edge)
	case 7:
		us, ms := 300+rnd.IntN(700), 3+rnd.IntN(4)
		f.opening = opening{time.Duration(us) * time.Microsecond, time.Duration(ms) * time.Millisecond}
		return as("drops out", []diagnose.Kind{diagnose.ContactUnsteady}, "drops out %d us every %d ms", us, ms)
	case 8:
		return as("diode missing", []diagnose.Kind{diagnose.DiodeMissing}, "diode missing")
	case 9:
		return as("diode reversed", []diagnose.Kind{diagnose.DiodeReversed}, "diode reversed")
	}
	return as("diode shorted", []diagnose.Kind{diagnose.DiodeShorted}, "diode shorted")
}

func drawLineFault(rnd *rand.Rand, p *product.Product) planted {
	line, other := p.Lines[rnd.IntN(len(p.Lines))], p.Lines[rnd.IntN(len(p.Lines))]
	limit, rest := float64(p.Keys[0].Limits.ClosedMax), float64(p.Keys[0].Limits.RestMin)
	label := func(i int) string { return p.Keys[line.Track[i]].Label }
	if len(line.Track) == 0 {
		return planted{}
	}
	f := planted{lines: []string{line.Name}}
	switch rnd.IntN(5) {
	case 0:
		f.kind, f.kinds, f.between = "line open", []diagnose.Kind{diagnose.LineOpen}, []string{"", label(0)}
		f.sentence = fmt.Sprintf("line %s open", line.Name)
	case 1:
		if len(line.Track) < 2 {
			return planted{}
		}
		i := rnd.IntN(len(line.Track) - 1)
		f.kind, f.kinds, f.between = "line broken", []diagnose.Kind{diagnose.LineBroken}, []string{label(i), label(i + 1)}
		f.sentence = fmt.Sprintf("line %s broken between %s and %s", line.Name, label(i), label(i+1))
	case 2:
		i := rnd.IntN(len(line.Track))
		f.kind, f.kinds, f.between = "line cracked", []diagnose.Kind{diagnose.LineCracked}, []string{"", label(0)}
		f.sentence = fmt.Sprintf("line %s adds %.1f ohm", line.Name, logarithmic(rnd, 1.1*limit, 5e3+limit))
		if i > 0 {
			f.between[0], f.between[1] = label(i-1), label(i)
			f.sentence += " after " + label(i-1)
		}
	default:
		if line.Name == other.Name {
			return planted{}
		}
		f.lines = append(f.lines, other.Name)
		f.kind, f.kinds = "lines shorted", []diagnose.Kind{diagnose.LinesShorted, diagnose.CrossingShorted, diagnose.ShieldShorted}
		f.sentence = fmt.Sprintf("lines %s %s shorted %.2f ohm", line.Name, other.Name, logarithmic(rnd, 0.5, 50))
		if rnd.IntN(2) == 0 {
			f.kind, f.kinds = "lines leak", []diagnose.Kind{diagnose.SilverGrowing}
			f.sentence = fmt.Sprintf("lines %s %s leak %.0f ohm", line.Name, other.Name, logarithmic(rnd, 150e3, 0.9*rest))
		}
	}
	return f
}

func drawSwap(rnd *rand.Rand, p *product.Product) planted {
	if len(p.Lines) < 3 {
		return planted{}
	}
	order := rnd.Perm(len(p.Lines))
	a, b := p.Lines[order[0]], p.Lines[order[1]]
	return planted{
		kind: "swapped", kinds: []diagnose.Kind{diagnose.LinesExchanged}, lines: []string{a.Name, b.Name},
		sentence: fmt.Sprintf("pins %d %d swapped", a.Pin, b.Pin),
	}
}

func drawSeat(rnd *rand.Rand, p *product.Product) planted {
	switch rnd.IntN(3) {
	case 0:
		return planted{kind: "tail reversed", kinds: []diagnose.Kind{diagnose.TailReversed}, sentence: "tail reversed"}
	case 1:
		by := []int{-2, -1, 1, 2}[rnd.IntN(4)]
		if max(by, -by) >= len(p.Tail) {
			return planted{}
		}
		return planted{kind: "tail shifted", kinds: []diagnose.Kind{diagnose.TailShifted}, sentence: fmt.Sprintf("tail shifted %d", by)}
	}
	line := p.Lines[rnd.IntN(len(p.Lines))]
	return planted{
		kind: "pin doubtful", kinds: []diagnose.Kind{diagnose.PinDoubtful}, lines: []string{line.Name},
		sentence: fmt.Sprintf("channel %d dirty %d ohm", line.Pin, 30+rnd.IntN(200)),
	}
}
