package runner_test

import (
	"flag"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"padjig/fixture/jigsim"
	"padjig/fixture/link"
	"padjig/fixture/quantity"
	"padjig/fixture/simport"
	"padjig/fixture/wire"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/runner"
)

var (
	adverseUnits = flag.Int("adverseunits", 60, "units in an adverse world; 10000 is the full number")
	adverseSeed  = flag.Uint64("adverseseed", 1, "of the units in an adverse world")
	adverseOnly  = flag.Int("adverseonly", -1, "the one unit to test, by its number")
)

// TestVerdictsInAnAdverseWorld counts verdicts on units of random keypads on jigs in
// worlds that are drawn at random: half of them inside what the jig states of itself, all
// influences together; half of them beyond it, one influence or several, up to ten times
// what is realistic (docs/faults.md). What a unit is follows from what was planted in it
// and from the air around it, and from no reading. A verdict that is not true of the unit
// is wrong, whatever the world; to end without one is not.
//
// Sizes lie on both sides of their limits, but for a zone about each limit in which not
// even a jig that is as it states decides for sure; see grey.
func TestVerdictsInAnAdverseWorld(t *testing.T) {
	var c verdicts
	t.Run("units", func(t *testing.T) {
		workers := runtime.GOMAXPROCS(0)
		for w := range workers {
			t.Run(fmt.Sprint("worker ", w), func(t *testing.T) {
				t.Parallel()
				for i := w; i < *adverseUnits; i += workers {
					if *adverseOnly < 0 || i == *adverseOnly {
						c.count(t, adverseUnit(t, uint64(i)))
					}
				}
			})
		}
	})
	t.Log(c.report())
}

// The verdict on a unit, held against what it is.
const (
	right      = "right"
	doubtful   = "doubtful"
	wrongPass  = "wrong pass"
	wrongFail  = "wrong fail"
	wrongPlace = "wrong place"
	otherEnd   = "no verdict, for another reason"
)

// tried is one unit that was tested.
type tried struct {
	verdict string
	beyond  []string // influences that are beyond what the jig states
	said    string
}

// verdicts counts.
type verdicts struct {
	mu sync.Mutex
	of map[[2]string]int // by world and verdict
}

func (c *verdicts) count(t *testing.T, u tried) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.of == nil {
		c.of = map[[2]string]int{}
	}
	worlds := []string{"inside"}
	if len(u.beyond) > 0 {
		worlds = []string{"beyond"}
		for _, b := range u.beyond {
			worlds = append(worlds, "beyond: "+b)
		}
	}
	for _, w := range worlds {
		c.of[[2]string{w, u.verdict}]++
	}
	if u.verdict != right && u.verdict != doubtful {
		t.Error(u.said)
	}
}

func (c *verdicts) report() string {
	worlds := map[string]bool{}
	for at := range c.of {
		worlds[at[0]] = true
	}
	all := []string{right, doubtful, wrongPass, wrongFail, wrongPlace, otherEnd}
	var b strings.Builder
	fmt.Fprintf(&b, "%d units, seed %d\n%-32s", *adverseUnits, *adverseSeed, "world")
	for _, v := range all {
		fmt.Fprintf(&b, "  %s", v)
	}
	for _, w := range slices.Sorted(maps.Keys(worlds)) {
		fmt.Fprintf(&b, "\n%-32s", w)
		for _, v := range all {
			fmt.Fprintf(&b, "  %*d", len(v), c.of[[2]string{w, v}])
		}
	}
	return b.String()
}

// adverseUnit draws a keypad, what is wrong with it and the world, tests it on a jig of its
// own, and judges the verdict.
func adverseUnit(t *testing.T, number uint64) tried {
	t.Helper()
	rnd := rand.New(rand.NewPCG(*adverseSeed, number))
	p := randomProduct(t, rnd)
	id := jigsim.Defaults()
	w := drawWorld(rnd, id, number%2 == 1)
	seed := rnd.Uint64()
	plant := drawPlant(t, rnd, p, id, w, seed)
	var run sequence.Run
	synctest.Test(t, func(t *testing.T) {
		s := &session{T: t, bench: bench{product: p, seed: seed, unpaced: true, faults: strings.Join(w.verified, "; ")}, memory: new(runner.Memory)}
		s.sim = s.bench.simulate(t)
		var disconnect func()
		s.jig, disconnect = simport.Connect(t, s.sim, link.Options{})
		defer disconnect()
		s.memory.Verified(s.check())
		run = s.unit(strings.Join(append(plant.sentences, w.sentences...), "; "))
	})
	out := tried{verdict: plant.judge(p, run), beyond: w.beyond}
	out.said = fmt.Sprintf("%s: unit %d of seed %d, %s with %q in %q: %s %s %v", out.verdict, number, *adverseSeed, p.Title,
		plant.sentences, w.sentences, run.Outcome, run.Reason, run.Findings)
	return out
}

// adverse is a world, and what of it is beyond what the jig states.
type adverse struct {
	sentences, beyond []string
	verified          []string     // what there was of it when the jig was verified: what belongs to the jig, and has not moved
	surface           quantity.Ohm // between neighbouring tracks
}

// influences are what surrounds a jig: how much of each a jig states, and ten times
// what is realistic. What it does not state has to drown in the noise that it states for
// one conversion: a current through its largest reference then moves a line by less.
type influence struct {
	name, format   string
	states, beyond float64 // in the unit of the sentence
	signed, comes  bool    // it comes and goes, or came since the jig was verified
	built          bool    // the simulated jig draws its own within what it states: planted is only what is beyond
}

func influences(id wire.Identity) []influence {
	vref, noise := float64(id.VrefMicroVolt)*1e-6, float64(id.NoisePPB)*1e-9
	largest := float64(id.Ranges[len(id.Ranges)-1].MilliOhm) * 1e-3
	drowned := noise * vref / largest * 1e9 // nA
	lsb := 1e6 / math.Pow(2, float64(id.ResolutionBits))
	inputs := vref / (float64(id.InputKiloOhm) * 1e3) * 1e9 // nA
	farad := float64(id.LinePicoFarad)
	soaks := 20e-3 / (largest * farad * 1e-12) * noise * 100 // percent that is late by less than the noise; see physics.Left
	return []influence{
		{name: "mains 50 Hz", format: "mains 50 Hz couples %.4g nA", states: drowned, beyond: 500, comes: true},
		{name: "mains 60 Hz", format: "mains 60 Hz couples %.4g nA", states: drowned, beyond: 500, comes: true},
		{name: "inputs", format: "inputs take %.4g nA", states: float64(id.BiasPicoAmpere) * 1e-3, beyond: 50, signed: true, built: true},
		{name: "clamps", format: "clamps leak %.4g nA", states: 0.3 * inputs, beyond: 100},
		{name: "probes", format: "probes give %.4g uV", states: noise * vref * 1e6, beyond: 500},
		{name: "drift", format: "references drift %.4g ppm", states: float64(id.DriftPPM), beyond: 10000, signed: true, comes: true, built: true},
		{name: "heat", format: "references heat %.4g ppm each milliwatt", states: float64(id.DriftPPM) / 10 / 12.5, beyond: 50},
		{name: "voltage", format: "voltage off %.4g %%", states: float64(id.VrefPPM) * 1e-4, beyond: 10, built: true},
		// Zero and span of the converter can be taken out: as large as is realistic.
		{name: "gain", format: "converter gains %.4g ppm", states: 500, beyond: 5000, signed: true},
		{name: "shift", format: "converter shifts %.4g uV", states: 500, beyond: 5000, signed: true},
		{name: "bend", format: "converter bends %.4g lsb", states: float64(id.BendPPM) / lsb, beyond: 40, signed: true, built: true},
		{name: "uneven", format: "converter uneven %.4g lsb", states: 0.2 * float64(id.BendPPM) / lsb, beyond: 10},
		{name: "capacitance", format: "lines hold %.4g pF", states: farad, beyond: 50000},
		{name: "soak", format: "lines soak %.4g %%", states: soaks, beyond: 10},
	}
}

// drawWorld draws every influence inside what the jig states, and of a world beyond, up to
// three of them from there to ten times what is realistic.
func drawWorld(rnd *rand.Rand, id wire.Identity, beyond bool) (w adverse) {
	all := influences(id)
	out := map[int]bool{}
	if beyond {
		for range 1 + rnd.IntN(3) {
			out[rnd.IntN(len(all))] = true
		}
	}
	for i, in := range all {
		size := in.states * rnd.Float64()
		switch {
		case out[i]:
			size = logarithmic(rnd, in.states*1.5, in.beyond)
			w.beyond = append(w.beyond, in.name)
		case in.built:
			continue
		}
		if in.signed && rnd.IntN(2) == 0 {
			size = -size
		}
		w.sentences = append(w.sentences, fmt.Sprintf(in.format, size))
		if !in.comes {
			w.verified = append(w.verified, w.sentences[len(w.sentences)-1])
		}
	}
	humid := 30 + 60*rnd.Float64()
	// As docs/faults.md has it.
	w.surface = quantity.Ohm(1e12 * math.Pow(10, -(humid-30)/15))
	w.sentences = append(w.sentences, fmt.Sprintf("humidity %.2f %%", humid), fmt.Sprintf("diodes at %.0f C", 10+40*rnd.Float64()))
	return w
}

// plant is what a unit is.
type plant struct {
	sentences []string
	keys      map[string]bool    // that are not good, by label
	lines     map[string]bool    // that are not good by themselves
	pairs     map[[2]string]bool // that are too close, by name in order
}

func (u *plant) bad() bool { return len(u.keys)+len(u.lines)+len(u.pairs) > 0 }

// grey is the zone about a limit, relative to it, inside which nothing is planted. A good
// value is accepted for sure where it is clear of the guard band of 2 u by five standard
// uncertainties of its reading, and a bad one is not accepted where the guard band and
// three more make five as well: 3 in ten million readings are further off (normal).
type grey struct{ good, bad float64 }

func greyOf(u float64) grey { return grey{good: 7 * u, bad: 3 * u} }

// contactGrey is that of a closed contact of about a limit: two references of which one
// counts, warmth and age as a bound, noise and bend of three nodes against what lies
// across the contact and across the reference, with 500 ohm to 5 kohm in series. Behind a
// diode the second difference of three voltages counts, of which each is known to the
// bend of the converter at least: 15 ppm of 2.5 V times the root of six, over 4 mA and
// (10 - 1) squared times ten... far below a percent of any limit; taken as one.
func contactGrey(id wire.Identity, limit float64, diode bool) grey {
	if diode {
		return greyOf(0.01)
	}
	ref := float64(id.Ranges[0].MilliOhm) * 1e-3
	across, current := limit/(limit+ref), ref/(limit+ref)
	node := math.Hypot(float64(id.BendPPM)*1e-6/math.Sqrt(3), float64(id.NoisePPB)*1e-9/math.Sqrt(32))
	resistor := math.Hypot(float64(id.Ranges[0].PPM), float64(id.DriftPPM)/math.Sqrt(3)) * 1e-6
	return greyOf(math.Hypot(resistor, math.Sqrt2*node*(1/across+1/current)))
}

// apartGrey is that of an insulation between two lines, on the largest reference.
func apartGrey(id wire.Identity, limit float64) grey {
	last := id.Ranges[len(id.Ranges)-1]
	ref, vref := float64(last.MilliOhm)*1e-3, float64(id.VrefMicroVolt)*1e-6
	current := ref / (limit + ref)
	bias := float64(id.BiasPicoAmpere) * 1e-12 * ref / vref
	input := 0.3 * ref / (float64(id.InputKiloOhm) * 1e3)
	node := math.Hypot(float64(id.BendPPM)*1e-6/math.Sqrt(3), float64(id.NoisePPB)*1e-9/4)
	resistor := math.Hypot(float64(last.PPM), float64(id.DriftPPM)/math.Sqrt(3)) * 1e-6
	return greyOf(math.Hypot(resistor, math.Hypot(math.Hypot(bias, input), math.Sqrt2*node)/current))
}

// drawPlant draws up to two faults, again until no size lies in its zone.
func drawPlant(t *testing.T, rnd *rand.Rand, p *product.Product, id wire.Identity, w adverse, seed uint64) *plant {
	t.Helper()
	for range 200 {
		u := &plant{keys: map[string]bool{}, lines: map[string]bool{}, pairs: map[[2]string]bool{}}
		d := drawing{plant: u, rnd: rnd, p: p, id: id, w: w, span: make([][2]float64, len(p.Keys)), near: true}
		for k, own := range (bench{product: p, seed: seed}).simulate(t).Contacts() {
			d.span[k] = [2]float64{float64(own), float64(own)}
		}
		n := rnd.IntN(3)
		d.near = n < 2
		for range n {
			d.fault()
		}
		if d.settle() {
			return u
		}
	}
	require.Fail(t, "no plant found whose sizes are clear of their limits")
	return nil
}

// drawing is a plant being drawn.
type drawing struct {
	*plant
	rnd    *rand.Rand
	p      *product.Product
	id     wire.Identity
	w      adverse
	span   [][2]float64 // of each contact, least and most of what it has at any current and in any press
	near   bool         // sizes may come near their limits: nothing else is planted that moves the reading
	closed []int        // keys whose resistance was planted: one plant each
	broken bool
	leaks  []leak
	series []series
}

type leak struct {
	a, b int
	ohm  float64
}

// series is resistance added to a line behind so many of its keys.
type series struct {
	line, after int
	ohm         float64
}

func (d *drawing) say(format string, args ...any) {
	d.sentences = append(d.sentences, fmt.Sprintf(format, args...))
}

// size draws a value about a limit: half of them near it, on either side.
func (d *drawing) size(limit float64, zone grey, least, most float64) float64 {
	edge := logarithmic(d.rnd, 1, 30)
	if !d.near {
		edge, zone = logarithmic(d.rnd, 1, 2), grey{0.2, 0.2}
	}
	if d.rnd.IntN(2) == 0 {
		return max(least, limit*(1-zone.good*edge))
	}
	return min(most, limit*(1+zone.bad*edge))
}

// fault plants one fault, or nothing where there is no place for it.
func (d *drawing) fault() {
	k := d.rnd.IntN(len(d.p.Keys))
	key := d.p.Keys[k]
	if slices.Contains(d.closed, k) {
		return
	}
	limit, path := float64(key.Limits.ClosedMax), float64(track(d.p, k))
	zone := contactGrey(d.id, limit, key.Diode != product.NoDiode)
	switch d.rnd.IntN(16) {
	case 0, 1, 2:
		d.closed = append(d.closed, k)
		ohm := d.size(limit, zone, path+1, 20e3)
		if d.rnd.IntN(3) == 0 {
			ohm = limit * logarithmic(d.rnd, 1.1, 30)
		}
		ohm -= path
		d.say("key %s high %.5f ohm", key.Label, ohm)
		d.span[k] = [2]float64{ohm, ohm}
	case 3:
		d.law(k, limit, path)
	case 4:
		d.closed = append(d.closed, k)
		d.say("key %s open", key.Label)
		d.keys[key.Label] = true
	case 5:
		d.closed = append(d.closed, k)
		d.say("key %s stuck %.1f ohm", key.Label, 1+limit*d.rnd.Float64())
		d.keys[key.Label] = true
	case 6, 7:
		d.timing(k)
	case 8:
		d.diode(k)
	default:
		d.line()
	}
}

// law makes a contact depend on current or press.
func (d *drawing) law(k int, limit, path float64) {
	const most = 5e-3 // ampere, of any product here; the least that a contact is read with is a tenth
	own := d.span[k][0]
	label := d.p.Keys[k].Label
	d.closed = append(d.closed, k)
	switch d.rnd.IntN(4) {
	case 0:
		film, volt := logarithmic(d.rnd, 10, 20e3), logarithmic(d.rnd, 1e-3, 5)
		d.say("key %s frits %.1f ohm above %.5f V", label, film, volt)
		d.span[k] = [2]float64{own + min(film, volt/most), own + min(film, volt/(most/20))}
	case 1:
		part := logarithmic(d.rnd, 0.5, 20)
		d.say("key %s yields %.2f %% each volt", label, part)
		d.span[k] = [2]float64{own / (1 + part/100*2.5), own}
	case 2:
		part := logarithmic(d.rnd, 0.5, 15)
		d.say("key %s scatters %.2f %%", label, part)
		d.span[k] = [2]float64{own * max(0.01, 1-5*part/100), own * (1 + 5*part/100)}
	default:
		part := logarithmic(d.rnd, 0.01, 5)
		d.say("key %s frets %.3f %% each press", label, part)
		d.span[k] = [2]float64{own, own * (1 + 6*part/100)}
	}
}

func (d *drawing) timing(k int) {
	key := d.p.Keys[k]
	d.closed = append(d.closed, k)
	switch d.rnd.IntN(4) {
	case 0:
		d.say("key %s releases late %d ms", key.Label, 60+d.rnd.IntN(200))
		d.keys[key.Label] = true
	case 1:
		d.say("key %s drops out %d us every %d ms", key.Label, 300+d.rnd.IntN(700), 3+d.rnd.IntN(4))
		d.keys[key.Label] = true
	default:
		edge, limit := "closing", key.Limits.Make
		if d.rnd.IntN(2) == 0 {
			edge, limit = "opening", key.Limits.Break
		}
		// Both ends are known to a tick.
		u := float64(d.id.TickNs) / math.Sqrt(6) / float64(limit)
		took := d.size(float64(limit), greyOf(u), float64(2*time.Millisecond), float64(40*time.Millisecond))
		d.say("key %s bounces %.4f ms on %s", key.Label, took/1e6, edge)
		if took > float64(limit) {
			d.keys[key.Label] = true
		}
	}
}

func (d *drawing) diode(k int) {
	key := d.p.Keys[k]
	if key.Diode == product.NoDiode {
		return
	}
	d.closed = append(d.closed, k)
	d.say("key %s diode %s", key.Label, []string{"missing", "reversed", "shorted"}[d.rnd.IntN(3)])
	d.keys[key.Label] = true
}

func (d *drawing) line() {
	a, b := d.rnd.IntN(len(d.p.Lines)), d.rnd.IntN(len(d.p.Lines))
	line, other := d.p.Lines[a], d.p.Lines[b]
	what := d.rnd.IntN(8)
	if what < 3 && (len(line.Track) == 0 || d.broken) || what >= 3 && a == b {
		return
	}
	label := func(i int) string { return d.p.Keys[line.Track[i]].Label }
	switch what {
	case 0:
		d.say("line %s open", line.Name)
		d.cut(a, 0)
	case 1:
		if len(line.Track) > 1 {
			i := d.rnd.IntN(len(line.Track) - 1)
			d.say("line %s broken between %s and %s", line.Name, label(i), label(i+1))
			d.cut(a, i+1)
		}
	case 2:
		after := d.rnd.IntN(len(line.Track))
		ohm := float64(d.p.Keys[0].Limits.ClosedMax) * logarithmic(d.rnd, 0.02, 20)
		d.series = append(d.series, series{a, after, ohm})
		d.broken = true
		at := ""
		if after > 0 {
			at = " after " + label(after-1)
		}
		d.say("line %s adds %.3f ohm%s", line.Name, ohm, at)
	case 3:
		ohm := logarithmic(d.rnd, 0.5, 50)
		d.say("lines %s %s shorted %.2f ohm", line.Name, other.Name, ohm)
		d.leaks = append(d.leaks, leak{a, b, ohm})
	default:
		rest := float64(d.p.Keys[0].Limits.RestMin)
		ohm := rest * logarithmic(d.rnd, 0.01, 0.9)
		if d.rnd.IntN(3) > 0 {
			zone := apartGrey(d.id, rest)
			// Here more is good.
			ohm = rest * rest / d.size(rest, grey{good: zone.good, bad: zone.bad}, rest/100, rest*100)
		}
		d.say("lines %s %s leak %.0f ohm", line.Name, other.Name, ohm)
		d.leaks = append(d.leaks, leak{a, b, ohm})
	}
}

// cut takes away the keys of a line from a place on.
func (d *drawing) cut(line, from int) {
	d.broken = true
	for _, k := range d.p.Lines[line].Track[from:] {
		if k >= 0 {
			d.keys[d.p.Keys[k].Label] = true
		}
	}
	d.lines[d.p.Lines[line].Name] = true
}

// settle works out what the unit is, and reports whether all of it is clear of its limit.
func (d *drawing) settle() bool { return d.contacts() && d.insulation() }

func (d *drawing) contacts() bool {
	for k, key := range d.p.Keys {
		if d.keys[key.Label] {
			continue
		}
		least, most := d.span[k][0]+float64(track(d.p, k)), d.span[k][1]+float64(track(d.p, k))
		for _, s := range d.series {
			if i := slices.Index(d.p.Lines[s.line].Track, k); i >= s.after {
				least, most = least+s.ohm, most+s.ohm
			}
		}
		limit := float64(key.Limits.ClosedMax)
		zone := contactGrey(d.id, limit, key.Diode != product.NoDiode)
		if !d.near {
			zone = grey{0.19, 0.19}
		}
		switch {
		case most <= limit*(1-zone.good*0.999):
		case least >= limit*(1+zone.bad*0.999):
			d.keys[key.Label] = true
			for _, s := range d.series {
				d.lines[d.p.Lines[s.line].Name] = true
			}
		default:
			return false
		}
	}
	return true
}

// insulation finds the pairs that are too close: by what lies between the two directly,
// others held at their potential, and by what goes round through neighbours as well.
func (d *drawing) insulation() bool {
	limit := float64(d.p.Keys[0].Limits.RestMin)
	zone := apartGrey(d.id, limit)
	byPin := map[int]int{}
	for i, l := range d.p.Lines {
		byPin[l.Pin] = i
	}
	place := make([]int, len(d.p.Lines)) // along the tail, of those with a pin
	for i, pin := range slices.Sorted(maps.Keys(byPin)) {
		place[byPin[pin]] = i
	}
	for _, l := range d.leaks {
		direct := 1 / l.ohm
		for _, o := range d.leaks {
			if o != l && (o.a == l.a && o.b == l.b || o.a == l.b && o.b == l.a) {
				direct += 1 / o.ohm
			}
		}
		apart := math.Abs(float64(place[l.a] - place[l.b]))
		round := 1 / (float64(d.w.surface) * apart)
		if apart == 1 {
			direct += round
		}
		closest, farthest := 1/(1/l.ohm+round), 1/direct
		names := []string{d.p.Lines[l.a].Name, d.p.Lines[l.b].Name}
		slices.Sort(names)
		switch {
		case min(closest, farthest) >= limit*(1+zone.good*0.999):
		case farthest <= limit*(1-zone.bad*0.999):
			d.pairs[[2]string{names[0], names[1]}] = true
		default:
			return false
		}
	}
	return true
}

// judge holds a verdict against what the unit is.
func (u *plant) judge(p *product.Product, run sequence.Run) string {
	switch {
	case run.Outcome == sequence.Aborted && (run.Why.Doubtful() || run.Why.Code == sequence.JigMisreads):
		return doubtful
	case run.Outcome == sequence.Pass && u.bad():
		return wrongPass
	case run.Outcome == sequence.Fail && !u.bad():
		return wrongFail
	case run.Outcome == sequence.Pass:
		return right
	case run.Outcome != sequence.Fail:
		return otherEnd
	}
	if slices.ContainsFunc(run.Findings, func(f sequence.Finding) bool { return !u.explains(p, f) }) {
		return wrongPlace
	}
	return right
}

// explains reports whether a finding is at a place where something is wrong: at a key that
// is not good, or at a line that is not; lines that are connected show at their keys.
func (u *plant) explains(p *product.Product, f sequence.Finding) bool {
	if u.keys[f.Key] || f.Key == "" && len(f.Lines) == 0 { // at a step: it is said of the unit as a whole
		return true
	}
	at := slices.Clone(f.Lines)
	if k := p.Key(f.Key); k >= 0 {
		at = append(at, p.Lines[p.Keys[k].A].Name, p.Lines[p.Keys[k].B].Name)
	}
	for _, line := range at {
		if u.lines[line] {
			return true
		}
		for pair := range u.pairs {
			if slices.Contains(pair[:], line) {
				return true
			}
		}
		for label := range u.keys {
			k := p.Keys[p.Key(label)]
			if f.Key == "" && (p.Lines[k.A].Name == line || p.Lines[k.B].Name == line) {
				return true
			}
		}
	}
	return false
}
