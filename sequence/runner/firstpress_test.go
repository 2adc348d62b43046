package runner_test

import (
	"context"
	"math/rand/v2"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/jigsim"
	"padjig/fixture/jigsim/world"
	"padjig/fixture/link"
	"padjig/fixture/simport"
	"padjig/sequence"
	"padjig/sequence/diagnose"
	"padjig/sequence/evidence"
	"padjig/sequence/runner"
)

// Why a fault does not show at a first press.
const (
	behindDiode = "behind a diode a first press reads that a key closes, and not its ohms"
	withinLimit = "what it adds leaves every reading within its limits"
	notMeasured = "it stops the run, or slows the line, and changes no reading"
	ownZero     = "a zero of the jig finds it, not a unit"
	nextPress   = "this press did not miss, and there is no other"
)

// gentleFaults are all kinds of faults there are, on keypads with and without diodes and
// without a matrix, and what a first press says of each: a kind among the causes of the
// first group, or why it says nothing.
var gentleFaults = []struct {
	product, fault string
	kind           diagnose.Kind
	place          string // a part of it
	hidden         string // why it does not show
}{
	{"gcc-20", "key 7 open", diagnose.ContactMissing, "key 7 (R3-C1)", ""},
	{"gcc-20", "key 7 high 640 ohm", diagnose.ContactDirty, "key 7 (R3-C1)", ""},
	{"gcc-20", "key 7 high 260 ohm", diagnose.ContactDirty, "key 7 (R3-C1)", ""},
	{"gcc-20", "key 7 high 20 kohm", diagnose.ContactWorn, "key 7 (R3-C1)", ""},
	{"gcc-20", "key 7 stuck 80 ohm", diagnose.KeyStuck, "key 7 (R3-C1)", ""},
	{"gcc-20", "key 7 releases late 80 ms", diagnose.KeyStuck, "key 7 (R3-C1)", ""},
	{"gcc-20", "key OK releases late 300 ms", diagnose.KeyStuck, "key OK (R5-C4)", ""},
	{"gcc-20", "key 7 bounces 14 ms on closing", diagnose.DomeCracked, "key 7 (R3-C1)", ""},
	{"gcc-20", "key 7 bounces 38 ms on closing", diagnose.DomeCracked, "key 7 (R3-C1)", ""},
	{"gcc-20", "key 7 bounces 14 ms on opening", diagnose.DomeCracked, "key 7 (R3-C1)", ""},
	{"gcc-20", "key 7 intermittent 100 %", diagnose.ContactMissing, "key 7 (R3-C1)", ""},
	{"gcc-20", "key 7 intermittent 1e-9 %", "", "", nextPress},
	{"gcc-20", "key 7 drops out 300 us every 5 ms", diagnose.ContactUnsteady, "key 7 (R3-C1)", ""},
	{"gcc-20", "key 7 drops out 12 ms every 16 ms", diagnose.ContactUnsteady, "key 7 (R3-C1)", ""},
	{"gcc-20", "key 7 filmed 2 kohm for 1 presses", diagnose.ContactDirty, "key 7 (R3-C1)", ""},
	{"gcc-20", "line R3 open", diagnose.LineOpen, "line R3 open between pin 3 and its first key 7", ""},
	{"gcc-20", "line C2 open", diagnose.LineOpen, "line C2 open between pin 7 and its first key >", ""},
	{"gcc-20", "line R3 broken between 7 and 8", diagnose.LineBroken, "line R3 broken between keys 7 and 8, tail side good", ""},
	{"gcc-20", "line C2 broken between 8 and 5", diagnose.LineBroken, "line C2 broken between keys 8 and 5", ""},
	{"gcc-20", "line R3 adds 400 ohm", diagnose.LineCracked, "line R3 has more resistance between pin 3", ""},
	{"gcc-20", "line R3 adds 400 ohm after 7", diagnose.LineCracked, "from between keys 7 and 8 on", ""},
	{"gcc-20", "line C2 adds 3 kohm after 8", diagnose.LineCracked, "from between keys 8 and 5 on", ""},
	{"gcc-20", "lines R3 R4 shorted 2 ohm", diagnose.LinesShorted, "between R3 (pin 3) and R4 (pin 4)", ""},
	{"gcc-20", "lines R3 C1 shorted 2 ohm", diagnose.CrossingShorted, "between R3 (pin 3) and C1 (pin 6)", ""},
	{"gcc-20", "lines C1 SH shorted 2 ohm", diagnose.ShieldShorted, "between C1 (pin 6) and SH (pin 10)", ""},
	{"gcc-20", "lines R3 R4 leak 150 kohm", diagnose.SilverGrowing, "between R3 (pin 3) and R4 (pin 4)", ""},
	{"gcc-20", "lines R3 C1 leak 800 kohm", diagnose.SilverGrowing, "between R3 (pin 3) and C1 (pin 6)", ""},
	{"gcc-20", "lines R3 C1 leak 150 kohm", diagnose.SilverGrowing, "between R3 (pin 3) and C1 (pin 6)", ""},
	{"gcc-20", "lines R3 SH leak 5 Mohm", diagnose.SilverGrowing, "between R3 (pin 3) and SH (pin 10)", ""},
	{"gcc-20", "tail shifted 1", diagnose.TailShifted, "1 pin too far towards its last", ""},
	{"gcc-20", "tail shifted -1", diagnose.TailShifted, "1 pin too far towards its first", ""},
	{"gcc-20", "tail shifted 2", diagnose.TailShifted, "2 pins too far towards its last", ""},
	{"gcc-20", "tail reversed", diagnose.TailReversed, "wrong way round", ""},
	{"gcc-20", "pins 3 5 swapped", diagnose.LinesExchanged, "R5 (pin 5) and R3 (pin 3)", ""},
	{"gcc-20", "pins 3 7 swapped", diagnose.LinesExchanged, "C2 (pin 7) and R3 (pin 3)", ""},
	{"gcc-20", "pins 3 10 swapped", diagnose.LinesExchanged, "SH (pin 10) and R3 (pin 3)", ""},
	{"gcc-20", "channel 4 dirty 50 ohm", diagnose.ProbeDirty, "pin 4 (R4)", ""},
	{"gcc-20", "channel 4 dirty open", diagnose.ProbeDirty, "pin 4 (R4)", ""},
	{"gcc-20", "channel 4 adds 3 ohm", "", "", ownZero},
	{"gcc-20", "actuator of key 7 stuck", diagnose.ActuatorMisses, "key 7 (R3-C1)", ""},
	{"gcc-20", "actuator of key 7 stuck down", diagnose.ActuatorHolds, "key 7 (R3-C1)", ""},
	{"gcc-20", "jig reference 4 drifted 5 %", diagnose.JigDoubtful, "check resistors", ""},
	{"gcc-20", "jig noisy 1e-3", "", "", notMeasured},
	{"gcc-20", "jig silent at routine 8", "", "", notMeasured},
	{"gcc-20", "jig reboots at routine 8", "", "", notMeasured},
	{"gcc-20", "jig opens interlock at routine 8", "", "", notMeasured},
	{"gcc-20", "jig emergency at routine 8", "", "", notMeasured},

	{"bay-16", "key 6 open", diagnose.ContactMissing, "key 6 (R2-C2)", ""},
	{"bay-16", "key 6 high 90 ohm", "", "", behindDiode},
	{"bay-16", "key 6 filmed 2 kohm for 1 presses", "", "", behindDiode},
	{"bay-16", "key 6 stuck 5 ohm", diagnose.KeyStuck, "key 6 (R2-C2)", ""},
	{"bay-16", "key 6 releases late 80 ms", diagnose.KeyStuck, "key 6 (R2-C2)", ""},
	{"bay-16", "key 6 bounces 14 ms on closing", diagnose.DomeCracked, "key 6 (R2-C2)", ""},
	{"bay-16", "key 6 bounces 14 ms on opening", diagnose.DomeCracked, "key 6 (R2-C2)", ""},
	{"bay-16", "key 6 intermittent 100 %", diagnose.ContactMissing, "key 6 (R2-C2)", ""},
	{"bay-16", "key 6 drops out 300 us every 5 ms", diagnose.ContactUnsteady, "key 6 (R2-C2)", ""},
	{"bay-16", "key 6 diode missing", diagnose.DiodeMissing, "key 6 (R2-C2)", ""},
	{"bay-16", "key 6 diode reversed", diagnose.DiodeReversed, "key 6 (R2-C2)", ""},
	{"bay-16", "key 6 diode shorted", diagnose.DiodeShorted, "key 6 (R2-C2)", ""},
	{"bay-16", "line R2 open", diagnose.LineOpen, "line R2 open", ""},
	{"bay-16", "line R2 broken between 6 and 7", diagnose.LineBroken, "line R2 broken between keys 6 and 7", ""},
	{"bay-16", "line R2 adds 400 ohm after 6", "", "", behindDiode},
	{"bay-16", "lines R1 R2 shorted 2 ohm", diagnose.LinesShorted, "between R1 (pin 6) and R2 (pin 7)", ""},
	{"bay-16", "lines R1 C3 shorted 2 ohm", diagnose.CrossingShorted, "between R1 (pin 6) and C3 (pin 2)", ""},
	{"bay-16", "lines R1 C3 leak 300 kohm", diagnose.SilverGrowing, "between R1 (pin 6) and C3 (pin 2)", ""},
	{"bay-16", "lines R1 C3 leak 20 Mohm", diagnose.SilverGrowing, "between R1 (pin 6) and C3 (pin 2)", ""},
	{"bay-16", "tail shifted 1", diagnose.TailShifted, "1 pin too far", ""},
	{"bay-16", "tail reversed", diagnose.TailReversed, "wrong way round", ""},
	{"bay-16", "pins 6 7 swapped", diagnose.LinesExchanged, "R2 (pin 7) and R1 (pin 6)", ""},
	{"bay-16", "pins 1 7 swapped", diagnose.LinesExchanged, "C4 (pin 1) and R2 (pin 7)", ""},
	{"bay-16", "channel 6 dirty open", diagnose.ProbeDirty, "pin 6 (R1)", ""},
	{"bay-16", "actuator of key 6 stuck", diagnose.ActuatorMisses, "key 6 (R2-C2)", ""},
	{"bay-16", "actuator of key 6 stuck down", diagnose.ActuatorHolds, "key 6 (R2-C2)", ""},

	{"vent-6", "key ALL open", diagnose.ContactMissing, "key ALL (K3-COM)", ""},
	{"vent-6", "key ALL high 640 ohm", diagnose.ContactDirty, "key ALL (K3-COM)", ""},
	{"vent-6", "key ALL releases late 80 ms", diagnose.KeyStuck, "key ALL (K3-COM)", ""},
	{"vent-6", "key ALL bounces 14 ms on closing", diagnose.DomeCracked, "key ALL (K3-COM)", ""},
	{"vent-6", "line K3 open", diagnose.LineOpen, "line K3 open", ""}, // or the key it alone reaches
	{"vent-6", "line COM open", diagnose.LineOpen, "line COM open", ""},
	{"vent-6", "line COM broken between ALL and RIDGE-", diagnose.LineBroken, "between keys ALL and RIDGE-", ""},
	{"vent-6", "line COM adds 400 ohm after ALL", diagnose.LineCracked, "from between keys ALL and RIDGE- on", ""},
	{"vent-6", "lines K1 K2 shorted 5 ohm", diagnose.LinesShorted, "between K1 (pin 1) and K2 (pin 2)", ""},
	{"vent-6", "lines K1 COM shorted 5 ohm", diagnose.LinesShorted, "between K1 (pin 1) and COM (pin 7)", ""},
	{"vent-6", "lines K1 COM leak 30 kohm", diagnose.LinesShorted, "between K1 (pin 1) and COM (pin 7)", ""},
	{"vent-6", "lines K1 COM leak 120 kohm", diagnose.SilverGrowing, "between K1 (pin 1) and COM (pin 7)", ""},
	{"vent-6", "tail shifted 1", diagnose.TailShifted, "1 pin too far", ""},
	{"vent-6", "tail reversed", diagnose.TailReversed, "wrong way round", ""},
	{"vent-6", "pins 1 2 swapped", diagnose.LinesExchanged, "K2 (pin 2) and K1 (pin 1)", ""},
	{"vent-6", "pins 3 7 swapped", diagnose.LinesExchanged, "COM (pin 7) and K3 (pin 3)", ""},
	{"vent-6", "channel 3 adds 30 ohm", "", "", withinLimit},

	{"console-104", "key W high 300 ohm", diagnose.ContactDirty, "key W (X3-Y3)", ""},
	{"console-104", "line Y9 open", diagnose.LineOpen, "line Y9 open", ""},
	{"console-104", "lines X1 Y16 leak 3 Mohm", diagnose.SilverGrowing, "between X1 (pin 1) and Y16 (pin 25)", ""},
	{"console-104", "pins 3 5 swapped", diagnose.LinesExchanged, "X5 (pin 5) and X3 (pin 3)", ""},
}

// A first press names what is wrong with the unit from one gentle press a key: the true
// cause is one of the first group, that is of those which its readings cannot tell apart,
// and the jig is never blamed in the first place for what the unit has.
func TestFirstPressIsDiagnosed(t *testing.T) {
	for _, c := range gentleFaults {
		t.Run(strings.ReplaceAll(c.product+" "+c.fault, "/", "_"), func(t *testing.T) {
			p := load(t, c.product)
			d, err := evidence.Diagnose(gentleRun(t, bench{product: p, faults: c.fault, seed: 11}, firstPress), p)
			require.NoError(t, err)
			if c.hidden != "" {
				assert.Empty(t, d.Groups, "shows all the same, although %s: %s", c.hidden, inWords.Sentence(d))
				return
			}
			first, ok := d.First()
			require.True(t, ok, inWords.Sentence(d))
			assert.True(t, holds(d.Groups[0], c.kind, c.place), "%v", d.Groups[0].Causes)
			if c.kind != diagnose.JigDoubtful {
				assert.False(t, first.Kind.OfJig(), "%s", inWords.Sentence(d))
			}
			assert.Empty(t, d.Unexplained)
		})
	}
}

func TestEveryKindOfFaultIsTriedAtAFirstPress(t *testing.T) {
	tried := map[world.Kind]bool{}
	for _, c := range gentleFaults {
		faults, err := world.ParseFaults(c.fault, load(t, c.product).Circuit())
		require.NoError(t, err)
		for _, f := range faults {
			tried[f.Kind] = true
		}
	}
	for kind := world.KeyOpen; kind < world.RandomFaults; kind++ {
		assert.True(t, tried[kind], "kind %d of the fault language", kind)
	}
}

func holds(g diagnose.Group, kind diagnose.Kind, place string) bool {
	for _, c := range g.Causes {
		if c.Kind == kind && strings.Contains(inWords.Of(c.Place), place) {
			return true
		}
	}
	return false
}

// gentleRun makes a run of the returns desk; it may be stopped by what it finds.
func gentleRun(t *testing.T, b bench, make planner) (run sequence.Run) {
	synctest.Test(t, func(t *testing.T) {
		jig, disconnect := simport.Connect(t, b.simulate(t), link.Options{})
		defer disconnect()
		plan, err := make(b, jig.Capabilities())
		require.NoError(t, err)
		unit := sequence.Unit{Serial: "T-1", Case: "c", Attempt: 1, Started: time.Now()}
		run, _ = plan.Run(context.Background(), jig, unit, nil) // its outcome says what stopped it
	})
	return run
}

// A good unit is told so; behind diodes it is said what was not read.
func TestFirstPressOfAGoodUnit(t *testing.T) {
	for _, name := range []string{"gcc-20", "vent-6", "bay-16", "console-104"} {
		p := load(t, name)
		d, err := evidence.Diagnose(gentleRun(t, bench{product: p, seed: 7}, firstPress), p)
		require.NoError(t, err)
		assert.Empty(t, d.Groups, inWords.Sentence(d))
		assert.Contains(t, inWords.Sentence(d), "Nothing wrong was read: ")
		assert.Equal(t, name == "bay-16", strings.Contains(inWords.Sentence(d), "Of 16 keys no more was read than that they close"))
	}
}

// noisier plans with what a jig states of itself while its conversions are noisier.
func noisier(b *bench, times uint32) planner {
	stated := fixture.CapabilitiesOf(jigsim.Defaults()).Noise
	b.id = jigsim.Defaults()
	b.id.NoisePPB *= times
	return func(b bench, jig fixture.Capabilities) (*runner.Plan, error) {
		jig.Noise = stated
		return firstPress(b, jig)
	}
}

// A jig that is noisier than it says is still found as such, with a fault of the unit or
// without one: its self-test stops the run.
func TestFirstPressFindsANoisyJig(t *testing.T) {
	for _, c := range []struct {
		product, fault string
		times          uint32
	}{
		{"gcc-20", "", 5}, {"gcc-20", "key 7 open", 5}, {"gcc-20", "key 7 high 640 ohm", 20}, {"gcc-20", "line R3 open", 20},
		{"vent-6", "", 40}, {"vent-6", "key ALL open", 40}, {"console-104", "", 40},
	} {
		b := bench{product: load(t, c.product), faults: c.fault, seed: 5}
		plan := noisier(&b, c.times)
		d, err := evidence.Diagnose(gentleRun(t, b, plan), b.product)
		require.NoError(t, err)
		first, ok := d.First()
		require.True(t, ok, "%+v: %s", c, inWords.Sentence(d))
		assert.Equal(t, diagnose.JigDoubtful, first.Kind, "%+v: %s", c, inWords.Sentence(d))
	}
}

// TestFirstPressCampaign draws single faults as the diagnosis campaign does, on the
// keypads of the demonstration, and diagnoses them from a first press. What is named
// instead of the truth must read the same there when it is planted in its place.
func TestFirstPressCampaign(t *testing.T) {
	gently := func(t *testing.T, b bench) sequence.Run { return gentleRun(t, b, firstPress) }
	for _, name := range []string{"gcc-20", "bay-16", "vent-6", "console-104"} {
		p := load(t, name)
		rnd := rand.New(rand.NewPCG(*campaignSeed, uint64(len(p.Keys))))
		shown, same, hidden := 0, 0, newUnseen()
		for range 60 {
			truth, _ := drawFault(rnd, p)
			if _, err := world.ParseFaults(truth.sentence, p.Circuit()); truth.sentence == "" || err != nil {
				continue // the fault language has no word for the last pins of a tail with unused ones
			}
			b := bench{product: p, faults: truth.sentence, seed: rnd.Uint64()}
			run := gently(t, b)
			e, err := evidence.Of(run, p)
			require.NoError(t, err)
			d := diagnose.Diagnose(e)
			first, ok := d.First()
			hidden.add(!ok || run.Outcome == sequence.Pass, []string{truth.kind}, hidesGently(p, truth))
			if !ok {
				assert.Positive(t, hidesGently(p, truth), "%s: %s does not show: %s", name, truth.sentence, inWords.Sentence(d))
				continue
			}
			shown++
			assert.False(t, first.Kind.OfJig(), "%s: %s: %s", name, truth.sentence, inWords.Sentence(d))
			if !truth.in(d.Groups[0]) {
				same++
				assert.True(t, readsTheSame(t, b, &e, d, gently), "%s: %s: %s %v", name, truth.sentence, inWords.Sentence(d), d.Groups[0].Causes)
			}
		}
		t.Logf("%s: %d faults showed, of %d something was named that reads the same; %s", name, shown, same, hidden.hold(t))
		assert.Greater(t, shown, 30)
		assert.LessOrEqual(t, same, 2)
	}
}
