package runner_test

import (
	"context"
	"math"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/circuit"
	"padjig/fixture/jigsim"
	"padjig/fixture/link"
	"padjig/fixture/quantity"
	"padjig/fixture/simport"
	"padjig/fixture/wire"
	"padjig/sequence"
	"padjig/sequence/product"
)

// A thread of silver between two lines burns away at a larger current, and the
// part looks good again (ASTM F1996-14, withdrawn: the current is limited). So
// every stage the host asks for is worked out with such a thread in the pad:
// while it is looked for, a few microampere come first, and nothing that
// follows exceeds what the product allows.
func TestThreadIsSeenBeforeItCouldBurn(t *testing.T) {
	for _, c := range []struct {
		fault, a, b string
		ohm         quantity.Ohm
	}{
		{"lines R3 R4 shorted 20 ohm", "R3", "R4", 20},
		{"lines C1 SH shorted 200 ohm", "C1", "SH", 200},
		{"lines R1 R2 shorted 900 ohm; lines R2 R3 leak 2 Mohm", "R1", "R2", 900},
	} {
		synctest.Test(t, func(t *testing.T) {
			b := bench{product: load(t, "gcc-20"), faults: c.fault, seed: 2}
			var sent []wire.Frame
			jig, disconnect := simport.Connect(t, b.simulate(t), link.Options{Trace: func(e link.Event) {
				if !e.FromJig {
					sent = append(sent, e.Frame)
				}
			}})
			run, err := b.plan(t, jig).Run(context.Background(), jig, sequence.Unit{Serial: "T-1", Attempt: 1}, nil)
			disconnect()
			require.NoError(t, err)
			require.Equal(t, sequence.Fail, run.Outcome)
			require.Contains(t, run.Findings[0].String(), "lines shorted: between "+c.a)

			searched, most := threadOf(b.product, c.a, c.b, c.ohm).currents(t, sent)
			first := 0
			for first < len(searched) && searched[first] < 3e-6 {
				first++
			}
			require.Less(t, first, len(searched), "its value is read in the end")
			assert.Greater(t, first, 10, "lines and pairs are read with a few microampere first")
			assert.LessOrEqual(t, most, float64(b.product.Test.MaxCurrent)*1.01)
			t.Logf("%s: %d stages below 3 uA, then %.3g A; most of all %.3g A", c.fault, first, searched[first], most)
		})
	}
}

// thread is a pad with a thread of silver in it, on the simulated jig.
type thread struct {
	bench  circuit.Meter
	keypad *circuit.Keypad
	ends   [2]int // lines
	ohm    quantity.Ohm
}

func threadOf(p *product.Product, a, b string, ohm quantity.Ohm) *thread {
	id := jigsim.Defaults()
	sw := quantity.Ohm(id.SwitchMilliOhm) / 1e3
	t := &thread{keypad: p.Circuit(), ends: [2]int{p.Line(a), p.Line(b)}, ohm: ohm}
	t.keypad.Bridges = []circuit.Bridge{{From: circuit.Place{Line: t.ends[0]}, To: circuit.Place{Line: t.ends[1]}, R: ohm}}
	t.bench = circuit.Meter{
		Vref: quantity.Volt(id.VrefMicroVolt) / 1e6, Switch: sw, Buffer: sw,
		Input: quantity.Ohm(id.InputKiloOhm) * 1e3, Wiring: p.Wiring(),
	}
	return t
}

// currents gives the current in the thread at each stage asked for after the
// first stop, which is when it is looked for and known from then on, and the
// largest of them. Nothing is pressed, so that guards are as high as they can be.
func (th *thread) currents(t *testing.T, sent []wire.Frame) (searched []float64, most float64) {
	t.Helper()
	stopped := false
	for _, f := range sent {
		stopped = stopped || f.Type == wire.TypeStop
		if f.Type != wire.TypeRoutine {
			continue
		}
		ops, err := wire.ParseRoutine(f.Payload)
		require.NoError(t, err)
		for _, op := range ops {
			stage, ok := op.(wire.Stage)
			if !ok {
				continue
			}
			if stopped {
				searched = append(searched, th.current(t, stage))
				most = max(most, searched[len(searched)-1])
			}
		}
	}
	return searched, most
}

func (th *thread) current(t *testing.T, stage wire.Stage) float64 {
	t.Helper()
	var drives []circuit.Drive
	for _, d := range stage.Channels {
		drives = append(drives, circuit.Drive(d))
	}
	ref := quantity.Ohm(jigsim.Defaults().Ranges[stage.Range].MilliOhm) / 1e3
	p, err := th.bench.Read(th.keypad, nil, ref, drives, nil, 0)
	require.NoError(t, err)
	volts := [2]float64{}
	for channel, line := range th.bench.Wiring {
		for i, end := range th.ends {
			if line == end {
				volts[i] = float64(p.Channel[channel])
			}
		}
	}
	// The thread lies where the tails end.
	between := th.keypad.Lines[th.ends[0]].Tail + th.ohm + th.keypad.Lines[th.ends[1]].Tail
	return math.Abs(volts[0]-volts[1]) / float64(between)
}
