package runner_test

import (
	"context"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"testing/synctest"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/fixture/quantity"
	"padjig/sequence"
	"padjig/sequence/product"
)

var (
	randomUnits = flag.Int("units", 300, "random keypads to test")
	randomSeed  = flag.Uint64("seed", 1, "of the random keypads")
)

// Random keypads with no fault, one or two, tested through the whole serial
// path. A unit with a fault that exceeds its limit by more than the guard band
// must not pass; good units may fail no more often than the producer's risk
// computed for them says.
func TestRandomKeypads(t *testing.T) {
	t.Logf("%d keypads, seed %d", *randomUnits, *randomSeed)
	rnd := rand.New(rand.NewPCG(*randomSeed, 0))
	var good, goodFailed int
	var risk float64
	hidden := newUnseen()
	for i := range *randomUnits {
		p := randomProduct(t, rnd)
		faults := i % 3
		text, used := randomFaults(rnd, p, faults)
		if faults == 0 {
			var r float64
			text, r = marginalButGood(rnd, p)
			risk += r
		}
		run := anyWay(t, i, bench{product: p, faults: text, seed: rnd.Uint64()})
		said := fmt.Sprintf("unit %d, %s with %q: %s %s %v", i, p.Title, text, run.Outcome, run.Reason, run.Findings)
		if faults == 0 {
			good++
			if run.Outcome != sequence.Pass {
				goodFailed++
				t.Log(said)
			}
			continue
		}
		hidden.add(run.Outcome == sequence.Pass, used, 0) // all beyond the guard band, and no swap that changes nothing
		if run.Outcome == sequence.Pass {
			t.Log(said)
		}
	}
	t.Logf("good units: %d, failed %d, expected from the producer's risk %.2f", good, goodFailed, risk)
	t.Log(hidden.hold(t))
	// Failures of good units are Poisson with that mean; four standard deviations.
	assert.LessOrEqual(t, float64(goodFailed), risk+4*math.Sqrt(risk)+1e-9)
	assert.Positive(t, good)
	assert.NotEmpty(t, hidden.planted)
}

// anyWay tests most units in fake time and every tenth over a real
// pseudo-terminal, through the serial port's own code.
func anyWay(t *testing.T, i int, b bench) sequence.Run {
	if i%10 == 9 {
		return runOnPort(t, b)
	}
	return runInBubble(t, b)
}

// runOnPort serves an unpaced jig on a pseudo-terminal and opens its other end
// as a serial port.
func runOnPort(t *testing.T, b bench) sequence.Run {
	b.unpaced = true
	sim := b.simulate(t)
	master, slave, err := pty.Open()
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	served := make(chan error, 1)
	go func() { served <- sim.Serve(ctx, master) }()
	jig, err := fixture.Open(ctx, slave.Name(), link.Options{})
	require.NoError(t, err)
	run, _ := b.plan(t, jig).Run(ctx, jig, sequence.Unit{Serial: "T-1", Attempt: 1}, nil)
	jig.Close()
	cancel()
	slave.Close() // hangs up, which ends the jig's pending read
	<-served
	master.Close()
	return run
}

func runInBubble(t *testing.T, b bench) (run sequence.Run) {
	synctest.Test(t, func(t *testing.T) { run, _, _ = b.run(t) })
	return run
}

// randomProduct writes a product file and reads it back.
func randomProduct(t *testing.T, rnd *rand.Rand) *product.Product {
	t.Helper()
	contact := []int{5, 20, 60, 150}[rnd.IntN(4)]
	var b strings.Builder
	fmt.Fprintf(&b, "product: RND-%d\n", rnd.IntN(1000))
	what := randomLayout(&b, rnd)
	fmt.Fprintf(&b, "title: %s of %d ohm\n", what, contact)
	fmt.Fprintf(&b, "nominal: {contact: %d ohm, track: %.1f ohm, tail: 3 ohm}\n", contact, rnd.Float64()+0.1)
	fmt.Fprintf(&b, "limits: {contact resistance: at most %d ohm, insulation resistance: at least %d Mohm, bounce on closing: at most 8 ms, bounce on opening: at most 8 ms, guard: 1 U}\n",
		3*contact+80, []int{1, 10, 50}[rnd.IntN(3)])
	p, err := product.Parse("random.yaml", []byte(b.String()))
	require.NoError(t, err, b.String())
	return p
}

// randomLayout writes a matrix of 1x1 to 16x16 with some crossings empty, or a
// direct-wired pad.
func randomLayout(b *strings.Builder, rnd *rand.Rand) string {
	if rnd.IntN(5) == 0 {
		return directLayout(b, 1+rnd.IntN(12))
	}
	rows, columns := size(rnd), size(rnd)
	var lines, names [2][]string
	for i := range rows {
		lines[0] = append(lines[0], fmt.Sprintf("R%d", i+1))
	}
	for i := range columns {
		lines[1] = append(lines[1], fmt.Sprintf("C%d", i+1))
	}
	names = lines
	fmt.Fprintf(b, "tail: %s %s\nmatrix:\n  rows: %[1]s\n  columns: %[2]s\n  keys: |\n",
		strings.Join(names[0], " "), strings.Join(names[1], " "))
	for r := range rows {
		b.WriteString("   ")
		for c := range columns {
			if r > 0 && c > 0 && rnd.IntN(8) == 0 {
				b.WriteString(" --")
			} else {
				fmt.Fprintf(b, " k%d.%d", r+1, c+1)
			}
		}
		b.WriteString("\n")
	}
	if rnd.IntN(3) == 0 {
		b.WriteString("  diodes: row to column\n")
		return fmt.Sprintf("%dx%d with diodes", rows, columns)
	}
	return fmt.Sprintf("%dx%d", rows, columns)
}

// size favours small pads, so that many can be tested.
func size(rnd *rand.Rand) int {
	if rnd.IntN(8) == 0 {
		return 1 + rnd.IntN(16)
	}
	return 1 + rnd.IntN(6)
}

func directLayout(b *strings.Builder, keys int) string {
	var tail, entries []string
	for i := range keys {
		tail = append(tail, fmt.Sprintf("K%d", i+1))
		entries = append(entries, fmt.Sprintf("  b%d: K%d COM\n", i+1, i+1))
	}
	fmt.Fprintf(b, "tail: %s COM\nlines: {direct: %[1]s, common: COM}\nkeys:\n%s", strings.Join(tail, " "), strings.Join(entries, ""))
	return fmt.Sprintf("direct %d", keys)
}

// randomFaults plants n faults on different keys or lines, each beyond its
// limit by more than the guard band.
func randomFaults(rnd *rand.Rand, p *product.Product, n int) (text string, kinds []string) {
	var faults []string
	for len(faults) < n {
		kind, fault := oneFault(rnd, p)
		if fault == "" || kind == "swapped" && slices.Contains(kinds, kind) { // a second swap may undo the first
			continue
		}
		faults, kinds = append(faults, fault), append(kinds, kind)
	}
	return strings.Join(faults, "; "), kinds
}

func oneFault(rnd *rand.Rand, p *product.Product) (kind, text string) {
	k := p.Keys[rnd.IntN(len(p.Keys))]
	line := p.Lines[rnd.IntN(len(p.Lines))]
	other := p.Lines[rnd.IntN(len(p.Lines))]
	limit, rest := float64(k.Limits.ClosedMax), float64(k.Limits.RestMin)
	diode := k.Diode != product.NoDiode
	switch rnd.IntN(12) {
	case 0:
		return "key open", fmt.Sprintf("key %s open", k.Label)
	case 1:
		return "key high", fmt.Sprintf("key %s high %.0f ohm", k.Label, limit*(1.05+3*rnd.Float64()))
	case 2:
		return "key stuck", fmt.Sprintf("key %s stuck %.0f ohm", k.Label, 1+limit*rnd.Float64())
	case 3:
		return "releases late", fmt.Sprintf("key %s releases late %d ms", k.Label, 60+rnd.IntN(100))
	case 4:
		edge := []string{"closing", "opening"}[rnd.IntN(2)]
		return "bounces on " + edge, fmt.Sprintf("key %s bounces %.1f ms on %s", k.Label, 9+6*rnd.Float64(), edge)
	case 5:
		if len(line.Track) == 0 {
			return "", ""
		}
		return "line open", fmt.Sprintf("line %s open", line.Name)
	case 6:
		if len(line.Track) < 2 {
			return "", ""
		}
		i := rnd.IntN(len(line.Track) - 1)
		return "line broken", fmt.Sprintf("line %s broken between %s and %s",
			line.Name, p.Keys[line.Track[i]].Label, p.Keys[line.Track[i+1]].Label)
	case 7:
		if len(line.Track) == 0 {
			return "", ""
		}
		return "line adds", fmt.Sprintf("line %s adds %.0f ohm", line.Name, limit*(1.1+rnd.Float64()))
	case 8, 9:
		if line.Name == other.Name {
			return "", ""
		}
		if rnd.IntN(2) == 0 {
			return "shorted", fmt.Sprintf("lines %s %s shorted %.1f ohm", line.Name, other.Name, 0.5+20*rnd.Float64())
		}
		return "leak", fmt.Sprintf("lines %s %s leak %.0f kohm", line.Name, other.Name, rest/1e3*(0.1+0.8*rnd.Float64()))
	case 10:
		if !diode {
			return "", ""
		}
		how := []string{"missing", "reversed", "shorted"}[rnd.IntN(3)]
		return "diode " + how, fmt.Sprintf("key %s diode %s", k.Label, how)
	}
	return swap(rnd, p)
}

// swap exchanges two rows that differ in what keys they carry, which any pad
// shows; exchanging a row with the only column of a 1x1 pad shows nowhere.
func swap(rnd *rand.Rand, p *product.Product) (kind, text string) {
	if len(p.Rows) < 2 {
		return "", ""
	}
	order := rnd.Perm(len(p.Rows))
	a, b := p.Lines[p.Rows[order[0]]], p.Lines[p.Rows[order[1]]]
	return "swapped", fmt.Sprintf("pins %d %d swapped", a.Pin, b.Pin)
}

// marginalButGood makes one key read high but within its limit, and returns
// the probability that a reading of it is rejected all the same. The reading
// is taken as normal about the true value; its standard uncertainty is the
// stated 250 ppm of the reference (the noise of 32 readings is far below).
func marginalButGood(rnd *rand.Rand, p *product.Product) (text string, risk float64) {
	k := rnd.IntN(len(p.Keys))
	key := p.Keys[k]
	if key.Diode != product.NoDiode {
		return "", 0
	}
	limit := float64(key.Limits.ClosedMax)
	u := limit * 250e-6
	truth := limit - 2*u - u*(6*rnd.Float64()) // within the acceptance limit by 0 to 6 u
	contact := truth - float64(track(p, k))
	text = fmt.Sprintf("key %s high %.4f ohm", key.Label, contact)
	return text, distuv.UnitNormal.CDF(-(limit - 2*u - truth) / u)
}

// track is the resistance of a key's tracks and tail on both its lines.
func track(p *product.Product, k int) (sum quantity.Ohm) {
	pad := p.Circuit()
	for _, l := range []int{p.Keys[k].A, p.Keys[k].B} {
		sum += pad.Lines[l].Tail
		for _, s := range pad.Lines[l].Track {
			sum += s.R
			if s.Key == k {
				break
			}
		}
	}
	return sum
}
