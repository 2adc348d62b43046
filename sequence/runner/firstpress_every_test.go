package runner_test

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/jigsim/world"
	"padjig/sequence"
	"padjig/sequence/decide"
	"padjig/sequence/diagnose"
	"padjig/sequence/evidence"
	"padjig/sequence/product"
)

var gentleDraws = flag.Int("gentle", 1, "faults of each kind and product to diagnose from a first press")

// gentleDraw draws faults of one kind of the fault language.
type gentleDraw struct {
	kind  world.Kind
	ofJig bool // it is the jig's, and may be called so
	draw  func(*rand.Rand, *product.Product) planted
}

// everyGentleFault has every kind of fault that a simulated jig can lay.
var everyGentleFault = []gentleDraw{
	{world.KeyOpen, false, atKey("key open", "open", diagnose.ContactMissing)},
	{world.KeyHigh, false, ofKey("key high", func(r *rand.Rand, k product.Key) string {
		return fmt.Sprintf("high %.1f ohm", logarithmic(r, 1.1*float64(k.Limits.ClosedMax), 20e3))
	}, diagnose.ContactDirty, diagnose.ContactWorn)},
	{world.KeyStuck, false, ofKey("key stuck", func(r *rand.Rand, k product.Key) string {
		return fmt.Sprintf("stuck %.1f ohm", float64(k.Contact)*logarithmic(r, 0.6, 2))
	}, diagnose.KeyStuck)},
	{world.KeyLate, false, ofKey("key late", func(r *rand.Rand, _ product.Key) string {
		return fmt.Sprintf("releases late %d ms", 60+r.IntN(240))
	}, diagnose.KeyStuck)},
	{world.KeyBouncesMake, false, ofKey("bounce closing", func(r *rand.Rand, k product.Key) string {
		return fmt.Sprintf("bounces %d ms on closing", int(k.Limits.Make.Milliseconds())+2+r.IntN(25))
	}, diagnose.DomeCracked)},
	{world.KeyBouncesBreak, false, ofKey("bounce opening", func(r *rand.Rand, k product.Key) string {
		return fmt.Sprintf("bounces %d ms on opening", int(k.Limits.Break.Milliseconds())+2+r.IntN(25))
	}, diagnose.DomeCracked)},
	{world.KeyIntermittent, false, ofKey("intermittent", func(r *rand.Rand, _ product.Key) string {
		return fmt.Sprintf("intermittent %d %%", 20+r.IntN(81))
	}, diagnose.ContactMissing)},
	{world.KeyDropsOut, false, func(r *rand.Rand, p *product.Product) planted {
		for {
			if f := drawKeyFault(r, p); f.kind == "drops out" {
				return f
			}
		}
	}},
	{world.KeyFilmed, false, ofKey("filmed", func(r *rand.Rand, k product.Key) string {
		return fmt.Sprintf("filmed %.1f ohm for %d presses", logarithmic(r, 1.2*float64(k.Limits.ClosedMax), 20e3), 1+r.IntN(3))
	}, diagnose.ContactDirty, diagnose.ContactWorn)},
	{world.DiodeMissing, false, atDiode("diode missing", diagnose.DiodeMissing)},
	{world.DiodeReversed, false, atDiode("diode reversed", diagnose.DiodeReversed)},
	{world.DiodeShorted, false, atDiode("diode shorted", diagnose.DiodeShorted)},
	{world.LineOpen, false, ofLines("line open")}, {world.LineBroken, false, ofLines("line broken")},
	{world.LineAdds, false, ofLines("line cracked")}, {world.LinesShorted, false, ofLines("lines shorted")},
	{world.LinesLeak, false, ofLines("lines leak")},
	{world.TailShifted, false, func(r *rand.Rand, p *product.Product) planted { return seated(r, p, "tail shifted") }},
	{world.TailReversed, false, func(r *rand.Rand, p *product.Product) planted { return seated(r, p, "tail reversed") }},
	{world.PinsSwapped, false, drawSwap},
	{world.ChannelDirty, true, atChannel("dirty %d ohm", diagnose.PinDoubtful, diagnose.ProbeDirty)},
	{world.ChannelOpen, true, atChannel("dirty open", diagnose.PinDoubtful, diagnose.ProbeDirty)},
	{world.ChannelAdds, true, atChannel("adds %d ohm", diagnose.LineCracked, diagnose.PinDoubtful, diagnose.ProbeDirty)},
	{world.ActuatorStuck, true, actuator("stuck", diagnose.ActuatorMisses)},
	{world.ActuatorDown, true, actuator("stuck down", diagnose.ActuatorHolds)},
	{world.JigSilent, true, ofJig("silent at routine %d")}, {world.JigReboots, true, ofJig("reboots at routine %d")},
	{world.JigNoisy, true, ofJig("noisy 1e-3 at routine %d")}, {world.JigInterlock, true, ofJig("opens interlock at routine %d")},
	{world.JigEmergency, true, ofJig("emergency at routine %d")},
	{world.JigReference, true, func(r *rand.Rand, _ *product.Product) planted {
		return planted{kind: "reference", kinds: []diagnose.Kind{diagnose.JigDoubtful},
			sentence: fmt.Sprintf("jig reference %d drifted %d %%", 1+r.IntN(4), 5+r.IntN(20))}
	}},
}

func ofKey(kind string, what func(*rand.Rand, product.Key) string, kinds ...diagnose.Kind) func(*rand.Rand, *product.Product) planted {
	return func(r *rand.Rand, p *product.Product) planted {
		k := p.Keys[r.IntN(len(p.Keys))]
		return planted{kind: kind, kinds: kinds, key: k.Label, sentence: fmt.Sprintf("key %q %s", k.Label, what(r, k))}
	}
}

func atKey(kind, what string, kinds ...diagnose.Kind) func(*rand.Rand, *product.Product) planted {
	return ofKey(kind, func(*rand.Rand, product.Key) string { return what }, kinds...)
}

func atDiode(what string, kind diagnose.Kind) func(*rand.Rand, *product.Product) planted {
	draw := atKey(what, what, kind)
	return func(r *rand.Rand, p *product.Product) planted {
		if p.Keys[0].Diode == product.NoDiode {
			return planted{}
		}
		return draw(r, p)
	}
}

func ofLines(kind string) func(*rand.Rand, *product.Product) planted {
	return func(r *rand.Rand, p *product.Product) planted {
		for range 200 {
			if f := drawLineFault(r, p); f.kind == kind {
				return f
			}
		}
		return planted{}
	}
}

func seated(r *rand.Rand, p *product.Product, kind string) planted {
	for range 50 {
		if f := drawSeat(r, p); f.kind == kind {
			return f
		}
	}
	return planted{}
}

func atChannel(what string, kinds ...diagnose.Kind) func(*rand.Rand, *product.Product) planted {
	return func(r *rand.Rand, p *product.Product) planted {
		line := p.Lines[r.IntN(len(p.Lines))]
		if strings.Contains(what, "%d") {
			return planted{kind: "channel", kinds: kinds, lines: []string{line.Name}, sentence: fmt.Sprintf("channel %d "+what, line.Pin, 30+r.IntN(200))}
		}
		return planted{kind: "channel", kinds: kinds, lines: []string{line.Name}, sentence: fmt.Sprintf("channel %d %s", line.Pin, what)}
	}
}

func actuator(what string, kind diagnose.Kind) func(*rand.Rand, *product.Product) planted {
	return func(r *rand.Rand, p *product.Product) planted {
		k := p.Keys[r.IntN(len(p.Keys))]
		return planted{kind: "actuator", kinds: []diagnose.Kind{kind}, key: k.Label, sentence: fmt.Sprintf("actuator of key %q %s", k.Label, what)}
	}
}

func ofJig(what string) func(*rand.Rand, *product.Product) planted {
	return func(r *rand.Rand, _ *product.Product) planted {
		return planted{kind: "jig", sentence: "jig " + fmt.Sprintf(what, 2+r.IntN(20))}
	}
}

// hidesSometimes is why a first press says nothing, where it may.
func hidesSometimes(g gentleDraw, p *product.Product, f planted) bool {
	diodes := p.Keys[0].Diode != product.NoDiode
	switch g.kind {
	case world.KeyFilmed:
		return diodes
	case world.KeyIntermittent:
		return f.sentence[strings.LastIndex(f.sentence, "intermittent"):] != "intermittent 100 %"
	case world.ChannelAdds: // within the limits of its line's keys
		return true
	case world.JigReference: // of a range that a first press does not use
		return true
	case world.JigSilent, world.JigReboots, world.JigNoisy, world.JigInterlock, world.JigEmergency: // it stops the run, and that is said
		return true
	}
	return hidesGently(p, f) > 0
}

// counted is what became of faults of one sort.
type counted struct{ drawn, named, same, hidden, blamed int }

// Over all kinds of faults of the fault language, on keypads with and without diodes, a
// matrix and lines of their own, a first press names the cause, or something that
// reads the same there, or says what is not known yet; and it never calls the jig what
// is the unit's.
func TestFirstPressOfEveryFault(t *testing.T) {
	gently := func(t *testing.T, b bench) sequence.Run { return gentleRun(t, b, firstPress) }
	tried, total := map[world.Kind]bool{}, counted{}
	for _, name := range []string{"gcc-20", "bay-16", "vent-6", "console-104", "loose-12"} {
		p := load(t, name)
		rnd := rand.New(rand.NewPCG(*campaignSeed, uint64(len(p.Keys))+1000))
		sum := counted{}
		for _, g := range everyGentleFault {
			for range *gentleDraws {
				truth := g.draw(rnd, p)
				faults, err := world.ParseFaults(truth.sentence, p.Circuit())
				if truth.sentence == "" || err != nil {
					continue // no diodes there, or no word for it on this tail
				}
				require.Equal(t, g.kind, faults[0].Kind, truth.sentence)
				tried[g.kind], sum.drawn = true, sum.drawn+1
				b := bench{product: p, faults: truth.sentence, seed: rnd.Uint64()}
				e, err := evidence.Of(gently(t, b), p)
				require.NoError(t, err)
				d := diagnose.Diagnose(e)
				first, ok := d.First()
				if !ok {
					sum.hidden++
					assert.True(t, hidesSometimes(g, p, truth), "%s: %s does not show: %s", name, truth.sentence, inWords.Sentence(d))
					continue
				}
				if first.Kind.OfJig() && !g.ofJig {
					sum.blamed++
					t.Errorf("%s: %s: the jig is blamed: %s", name, truth.sentence, inWords.Sentence(d))
				}
				switch {
				case truth.in(d.Groups[0]):
					sum.named++
				case readsTheSame(t, b, &e, d, gently):
					sum.same++
				default:
					t.Errorf("%s: %s: %s %v", name, truth.sentence, inWords.Sentence(d), d.Groups[0].Causes)
				}
			}
		}
		low, high := decide.MissInterval(sum.blamed, sum.drawn-sum.hidden)
		t.Logf("%s: %d faults, %d named, %d by what reads the same, %d not to be seen; the jig was blamed for %d: with 95 %% confidence %.2g to %.2g %%",
			name, sum.drawn, sum.named, sum.same, sum.hidden, sum.blamed, 100*low, 100*high)
		total = counted{total.drawn + sum.drawn, total.named + sum.named, total.same + sum.same, total.hidden + sum.hidden, total.blamed + sum.blamed}
	}
	low, high := decide.MissInterval(total.named+total.same, total.drawn-total.hidden)
	t.Logf("all: %+v; of those that show %.3g to %.3g %% are told", total, 100*low, 100*high)
	for kind := world.KeyOpen; kind < world.RandomFaults; kind++ {
		assert.True(t, tried[kind], "kind %d of the fault language", kind)
	}
}
