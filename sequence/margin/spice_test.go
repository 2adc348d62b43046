package margin

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"padjig/fixture/circuit"
	"padjig/fixture/ngspice"
	"padjig/sequence/product"
)

// spiceCase is a scan of a keypad, and what this package makes of it.
type spiceCase struct {
	*board
	scan
	volts []float64 // by line
}

// netlist writes the scan from the product, with every tap of every track a node, knowing
// nothing of how this package connects it: line i is i, the tap of key k on it tI_K. Beyond
// three times N vt in reverse ngspice has a cubic in the place of Shockley's law; a current
// source beside each junction takes the one and gives the other (formula from its manual,
// cited from memory).
func (c *spiceCase) netlist(w io.Writer) {
	fmt.Fprintf(w, "* padjig\n.options reltol=1e-6 vntol=1e-9 gmin=1e-12 temp=27 tnom=27\nVdd dd 0 %.17g\n",
		float64(c.scanner.Supply))
	for i, l := range c.Lines {
		c.tracks(w, i, l)
		switch drive := float64(c.scanner.Drive); {
		case l.Kind == product.Row:
			fmt.Fprintf(w, "Rp%d dd l%d %.17g\n", i, i, float64(c.scanner.PullUp))
		case i == c.low:
			fmt.Fprintf(w, "Rd%d l%d 0 %.17g\n", i, i, drive)
		case c.idleHigh:
			fmt.Fprintf(w, "Rd%d l%d dd %.17g\n", i, i, drive)
		case !c.touched(i): // a line with nothing on it, which this package puts at 0 V
			fmt.Fprintf(w, "Rt%d l%d 0 1e12\n", i, i)
		}
	}
	for _, k := range c.held {
		c.key(w, k)
	}
	fmt.Fprintln(w, ".end")
}

func (c *spiceCase) tracks(w io.Writer, i int, l product.Line) {
	fmt.Fprintf(w, "Rl%d l%d s%d %.17g\n", i, i, i, float64(c.Nominal.Tail))
	at := fmt.Sprintf("s%d", i)
	for _, k := range l.Track {
		next := fmt.Sprintf("t%d_%d", i, k)
		fmt.Fprintf(w, "R%s %s %s %.17g\n", next, at, next, float64(c.Nominal.Track))
		at = next
	}
}

func (c *spiceCase) key(w io.Writer, k int) {
	key, d := c.Keys[k], c.Nominal.Diode
	from, to := fmt.Sprintf("t%d_%d", key.A, k), fmt.Sprintf("t%d_%d", key.B, k)
	switch key.Diode {
	case product.NoDiode:
		fmt.Fprintf(w, "Rk%d %s %s %.17g\n", k, from, to, float64(key.Contact))
		return
	case product.BtoA:
		from, to = to, from
	}
	slope, third := d.N*float64(circuit.ThermalVoltage), 27/(math.E*math.E*math.E)
	fmt.Fprintf(w, "Rk%d %s a%d %.17g\nD%d a%d j%d m%d\n.model m%d D(is=%.17g n=%.17g)\nRj%d j%d %s %.17g\n",
		k, from, k, float64(key.Contact), k, k, k, k, k, float64(d.Is), d.N, k, k, to, float64(d.Rs))
	x := fmt.Sprintf("min(v(a%d,j%d)/%.17g,-3)", k, k, slope)
	fmt.Fprintf(w, "B%d a%d j%d I=%.17g*(exp(%s)+%.17g/(%s*%s*%s))\n", k, k, k, float64(d.Is), x, third, x, x, x)
}

func (c *spiceCase) touched(line int) bool {
	for _, k := range c.held {
		if c.linesOf(k).has(line) {
			return true
		}
	}
	return false
}

// Scans of random keypads, one to four keys held, pull-ups, tracks, drivers and diodes either way:
// every line's voltage against ngspice with matched options, within 1e-3.
func TestScansAgainstNgspice(t *testing.T) {
	bench, random := ngspice.New(t), rand.New(rand.NewPCG(17, 2))
	cases := make([]*spiceCase, 120)
	script := bytes.NewBufferString("* padjig\n.control\nset numdgt=16\n")
	diodes := 0
	for i := range cases {
		c := randomScan(t, random)
		cases[i] = c
		for _, k := range c.held {
			if c.Keys[k].Diode != product.NoDiode {
				diodes++
			}
		}
		c.order(t, script, bench, i)
	}
	require.Greater(t, diodes, len(cases)/2, "enough diodes held")
	script.WriteString("quit\n.endc\n.end\n")
	bench.Lay(t, "all.cir", script.Bytes())
	worst, voltages := compare(t, cases, ngspice.Answers(t, bench.Run(t, "all.cir"))[1:])
	t.Logf("%d scans, %d voltages, %d diodes held: worst relative difference %.2g", len(cases), voltages, diodes, worst)
}

func randomScan(t *testing.T, random *rand.Rand) *spiceCase {
	t.Helper()
	p := randomPad(t, random)
	c := &spiceCase{board: newBoard(p), scan: scan{
		low: p.Columns[random.IntN(len(p.Columns))], idleHigh: p.Scanner.IdleDriven,
		held: random.Perm(len(p.Keys))[:1+random.IntN(min(4, len(p.Keys)))],
	}}
	m, err := c.solve(c.scan)
	require.NoError(t, err)
	for line := range p.Lines {
		c.volts = append(c.volts, float64(m.line(line)))
	}
	return c
}

// order adds the commands for the scan, whose netlist it puts in a file of its own.
func (c *spiceCase) order(t *testing.T, script *bytes.Buffer, bench *ngspice.Bench, i int) {
	t.Helper()
	netlist, name := &bytes.Buffer{}, fmt.Sprintf("%d.cir", i)
	c.netlist(netlist)
	bench.Lay(t, name, netlist.Bytes())
	fmt.Fprintf(script, "source %s\nop\necho circuit %d\n", name, i)
	for line := range c.Lines {
		fmt.Fprintf(script, "print v(l%d)\n", line)
	}
	fmt.Fprintf(script, "destroy all\nremcirc\n")
}

// compare gives the worst difference; every voltage must have come back.
func compare(t *testing.T, cases []*spiceCase, got []ngspice.Answer) (worst float64, voltages int) {
	t.Helper()
	const floor = 1e-8 // volt, below which ngspice has stopped iterating
	require.Len(t, got, len(cases))
	for i, c := range cases {
		require.Len(t, got[i].Volts, len(c.volts), "ngspice gave up on scan %d", i)
		for line, want := range got[i].Volts {
			difference := math.Abs(c.volts[line] - want)
			if difference > floor {
				worst = max(worst, difference/math.Abs(want))
			}
			require.LessOrEqual(t, difference, max(floor, 1e-3*math.Abs(want)), "scan %d, line %s: %g V, ngspice %g V",
				i, c.Lines[line].Name, c.volts[line], want)
			voltages++
		}
	}
	return worst, voltages
}
