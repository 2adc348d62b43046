package runner_test

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/jigsim"
	"padjig/fixture/link"
	"padjig/fixture/quantity"
	"padjig/fixture/simport"
	"padjig/sequence"
	"padjig/sequence/judge"
	"padjig/sequence/product"
	"padjig/sequence/runner"
)

// atScanner is the product, asking that contacts are good at the scanner's own current.
func atScanner(t testing.TB, name string) *product.Product {
	t.Helper()
	p := load(t, name)
	p.Test.Contact.Scanner = true
	return p
}

// keyOf is what a run says of a key.
func keyOf(t testing.TB, run sequence.Run, label string) sequence.KeyResult {
	t.Helper()
	for _, k := range run.Keys {
		if k.Key == label {
			return k
		}
	}
	require.Fail(t, "no key", label)
	return sequence.KeyResult{}
}

// A film that breaks down at the test's current and not at the scanner's: the unit does not
// work in the field. Without two currents it passes.
func TestAContactThatIsGoodAtTheTestCurrentOnlyFails(t *testing.T) {
	const film = "key 7 frits 2 kohm above 0.3 V"
	synctest.Test(t, func(t *testing.T) {
		run, _, err := bench{product: load(t, "gcc-20"), faults: film, seed: 3}.run(t)
		require.NoError(t, err)
		assert.Equal(t, sequence.Pass, run.Outcome, "as contacts are read without: %v", run.Findings)
		assert.Nil(t, keyOf(t, run, "7").Two)
	})
	synctest.Test(t, func(t *testing.T) {
		run, _, err := bench{product: atScanner(t, "gcc-20"), faults: film, seed: 3}.run(t)
		require.NoError(t, err)
		assert.Equal(t, sequence.Fail, run.Outcome)
		require.Len(t, run.Findings, 1)
		f := run.Findings[0]
		assert.Equal(t, "key high", f.What)
		assert.True(t, f.Says(sequence.NotOhmic), f.Place)
		t.Log(f)
		two := keyOf(t, run, "7").Two
		require.NotNil(t, two)
		assert.Equal(t, fixture.NotOhmic, two.Conduction)
		assert.InDelta(t, 2073, float64(*f.Value), 25, "all of the film")
		assert.Less(t, two.Large.Resistance.Value, quantity.Ohm(200))
		assert.Greater(t, two.Large.Current, 50*two.Small.Current)
		assert.Equal(t, fixture.Ohmic, keyOf(t, run, "8").Two.Conduction)
	})
}

// What a product does not ask for does not happen: the same exchanges, the same readings.
func TestOneCurrentIsReadAsBefore(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := load(t, "gcc-20")
		jig, disconnect := simport.Connect(t, bench{product: p}.simulate(t), link.Options{})
		defer disconnect()
		caps := jig.Capabilities()
		set := judge.NewSetting(p, caps, sequence.Mechanical)
		assert.Equal(t, []int{0, 1, 3, -1}, []int{set.Low, set.Mid, set.High, set.Near})
		asked := judge.NewSetting(atScanner(t, "gcc-20"), caps, sequence.Mechanical)
		assert.Equal(t, []int{0, 2, 3, 2}, []int{asked.Low, asked.Mid, asked.High, asked.Near}, "nothing larger flows before")
	})
}

// cycle is how long a unit takes on the jig.
func cycle(t testing.TB, p *product.Product) (took time.Duration) {
	run, _, err := bench{product: p, seed: 3, id: jigsim.Defaults()}.run(t)
	require.NoError(t, err)
	require.Equal(t, sequence.Pass, run.Outcome, "%v", run.Findings)
	return time.Duration(run.Duration)
}

// What two currents cost, by the jig's own time.
func TestTwoCurrentsAreCheap(t *testing.T) {
	for _, name := range []string{"gcc-20", "console-104"} {
		synctest.Test(t, func(t *testing.T) {
			one, two := cycle(t, load(t, name)), cycle(t, atScanner(t, name))
			ratio := float64(two) / float64(one)
			t.Logf("%s: %v, %v: %.3f times the cycle", name, one, two, ratio)
			assert.Less(t, ratio, 1.25)
		})
	}
}

// One range alone reads one current: nothing is tested then, rather than half of it.
func TestOneRangeCannotReadTwoCurrents(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := atScanner(t, "gcc-20")
		jig, disconnect := simport.Connect(t, bench{product: p}.simulate(t), link.Options{})
		defer disconnect()
		caps := jig.Capabilities()
		p.Test.MaxCurrent = caps.Current(len(caps.Ranges) - 1)
		_, err := runner.NewPlan(p, caps, sequence.Mechanical)
		assert.ErrorContains(t, err, "wants contacts read at two currents")
		_, err = runner.NewFirstPress(p, caps, sequence.Mechanical)
		assert.ErrorContains(t, err, "two currents")

		p.Test.MaxCurrent = caps.Current(len(caps.Ranges) - 2)
		plan, err := runner.NewPlan(p, caps, sequence.Mechanical)
		require.NoError(t, err, "two ranges do")
		run, err := plan.Run(context.Background(), jig, sequence.Unit{Serial: "T-1", Attempt: 1, Started: time.Now()}, nil)
		require.NoError(t, err)
		assert.Equal(t, sequence.Pass, run.Outcome, "%v", run.Findings)
	})
}

// A contact that moves while it is read, or from press to press, is no film.
func TestAContactThatMovesIsNotCalledNotOhmic(t *testing.T) {
	for _, fault := range []string{
		"key 7 drops out 300 us every 5 ms", "key 7 drops out 100 us every 2 ms", "key 7 filmed 2 kohm for 3 presses",
		"key 7 intermittent 100 %", "key 7 bounces 14 ms on closing", "key 7 releases late 80 ms", "key 7 high 640 ohm",
		"key 7 scatters 30 %", "key 7 frets 5 % each press", "line R3 adds 300 ohm after 7", "lines R3 C1 leak 100 kohm",
		"lines C1 C2 leak 800 kohm", "key 7 stuck 80 ohm", "channel 4 dirty 50 ohm",
	} {
		for seed := range uint64(10) {
			synctest.Test(t, func(t *testing.T) {
				run, _, err := bench{product: atScanner(t, "gcc-20"), faults: fault, seed: seed}.run(t)
				require.NoError(t, err, fault)
				for _, k := range run.Keys {
					if k.Two != nil {
						assert.NotEqual(t, fixture.NotOhmic, k.Two.Conduction, "%s, seed %d, key %s: %+v", fault, seed, k.Key, k.Two)
					}
				}
			})
		}
	}
}

// Mains, probes and the rest fail no good unit that is read at two currents.
func TestGoodUnitsPassAtTwoCurrentsInAnAdverseWorld(t *testing.T) {
	for _, around := range []string{
		"", "mains 50 Hz couples 5 nA", "probes give 50 uV", "converter gains 100 ppm", "references drift 500 ppm", "lines hold 900 pF",
		"probes give 20 uV; converter bends 2 lsb; converter shifts 50 uV; references heat 3 ppm each milliwatt; inputs take 0.1 nA",
	} {
		synctest.Test(t, func(t *testing.T) {
			run, _, err := bench{product: atScanner(t, "gcc-20"), faults: around, seed: 5}.run(t)
			require.NoError(t, err, around)
			assert.Equal(t, sequence.Pass, run.Outcome, "%s: %v", around, run.Findings)
		})
	}
}

// Where some keys have a diode, the others alone are read at two currents: through a diode
// nothing tells a film from the diode's drop.
func TestKeysWithDiodesAreReadAsBefore(t *testing.T) {
	p, err := product.Parse("pad.yaml", []byte(`
product: PAD
tail: R1 C1 K1 COM
matrix:
  rows: R1
  columns: C1
  keys: D
  diodes: row to column
lines: {direct: K1, common: COM}
keys: {S: K1 COM}
scanner: {supply: 3.3 V, pull-up: 10 kohm}
test: {contact current: scanner}
`))
	require.NoError(t, err)
	assert.Zero(t, p.ContactCurrent(p.Key("D")))
	synctest.Test(t, func(t *testing.T) {
		run, _, err := bench{product: p}.run(t)
		require.NoError(t, err)
		assert.Equal(t, sequence.Pass, run.Outcome, "%v", run.Findings)
		assert.Nil(t, keyOf(t, run, "D").Two)
		assert.NotNil(t, keyOf(t, run, "D").Forward)
		assert.Equal(t, fixture.Ohmic, keyOf(t, run, "S").Two.Conduction)
	})
}

// A product without a scanner states the current itself.
func TestAStatedCurrent(t *testing.T) {
	p, err := product.Parse("pad.yaml", []byte(`
product: PAD
tail: R1 C1 SH
matrix: {rows: R1, columns: C1, keys: A}
lines: {shield: SH}
test: {contact current: 3 uA}
`))
	require.NoError(t, err)
	synctest.Test(t, func(t *testing.T) {
		run, _, err := bench{product: p, faults: "key A frits 2 kohm above 0.05 V"}.run(t)
		require.NoError(t, err)
		assert.Equal(t, sequence.Fail, run.Outcome)
		two := keyOf(t, run, "A").Two
		require.NotNil(t, two)
		assert.Less(t, two.Small.Current, quantity.Ampere(3e-6))
		assert.InDelta(t, 2050, float64(two.Small.Resistance.Value), 60)
	})
	synctest.Test(t, func(t *testing.T) {
		run, _, err := bench{product: p}.run(t)
		require.NoError(t, err)
		assert.Equal(t, sequence.Pass, run.Outcome, "%v", run.Findings)
	})
}

// A first press is gentle: one current, the smallest that still reads.
func TestAFirstPressReadsOneCurrent(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := atScanner(t, "gcc-20")
		jig, disconnect := simport.Connect(t, bench{product: p, faults: "key 7 frits 2 kohm above 0.3 V", seed: 3}.simulate(t), link.Options{})
		defer disconnect()
		plan, err := runner.NewFirstPress(p, jig.Capabilities(), sequence.Mechanical)
		require.NoError(t, err)
		run, err := plan.Run(context.Background(), jig, sequence.Unit{Serial: "T-1", Attempt: 1, Started: time.Now()}, nil)
		require.NoError(t, err)
		assert.Nil(t, keyOf(t, run, "7").Two, "one current alone, at a first press")
	})
}

// The large current is one with which a contact at its limit is still read straight: far
// above a reference resistor, what bends the converter would look like a film.
func TestTheLargeCurrentGoesByTheLimit(t *testing.T) {
	p := atScanner(t, "gcc-20")
	caps := fixture.CapabilitiesOf(jigsim.Defaults())
	for limit, want := range map[quantity.Ohm]int{200: 0, 5e3: 0, 5.1e3: 1, 20e3: 1, 100e3: 1} {
		for k := range p.Keys {
			p.Keys[k].Limits.ClosedMax = limit
		}
		set := judge.NewSetting(p, caps, sequence.Mechanical)
		assert.Equal(t, want, set.Large(0), "%v", limit)
		assert.Less(t, set.Large(0), set.Near, "%v: two currents", limit)
	}
	synctest.Test(t, func(t *testing.T) {
		for k := range p.Keys {
			p.Keys[k].Limits.ClosedMax = 25e3
		}
		p.Scanner.PullUp = 100e3
		p.Nominal.Contact = 18e3
		for _, around := range []string{"converter gains 500 ppm", "converter bends 4 lsb", "references drift 1000 ppm", "inputs take 0.1 nA"} {
			run, _, err := bench{product: p, faults: around, seed: 4}.run(t)
			require.NoError(t, err)
			for _, k := range run.Keys {
				require.NotNil(t, k.Two, "%v", run.Findings)
				assert.Equal(t, fixture.Ohmic, k.Two.Conduction, "%s: %+v", around, k.Two)
			}
		}
	})
}
