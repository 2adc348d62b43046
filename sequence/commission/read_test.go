package commission

import (
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/jigsim"
	"padjig/fixture/jigsim/world"
	"padjig/fixture/link"
	"padjig/fixture/simport"
	"padjig/fixture/wire"
	"padjig/sequence/product"
)

// channels of the jigs here: enough to tell one from the others, and quick.
const channels = 10

// onJig has a reader at a jig without second probes, with something in its nest.
func onJig(t *testing.T, unit world.Unit, change func(*wire.Identity)) *Reader {
	t.Helper()
	id := jigsim.Defaults()
	id.Channels = channels
	id.Features &^= wire.FeatureLoop
	if change != nil {
		change(&id)
	}
	sim, err := jigsim.New(jigsim.Config{Identity: id, Keypad: unit.Keypad, Wiring: unit.Wiring, Faults: unit.Faults, Seed: 7})
	require.NoError(t, err)
	jig, done := simport.Connect(t, sim, link.Options{})
	t.Cleanup(done)
	return &Reader{Jig: jig, Caps: jig.Capabilities()}
}

// empty is the nest of a jig with one probe a line, on which nothing lies, and what acts on it.
func empty(t *testing.T, faults string) world.Unit {
	t.Helper()
	bare := world.Box(channels, nil)
	laid, err := world.ParseFaults(faults, bare)
	require.NoError(t, err)
	return world.Unit{Keypad: bare, Wiring: world.Straight(channels), Faults: laid}
}

// dirty is an empty nest in which something conducts between two channels.
func dirty(a, b int, r world.Resistor) world.Unit {
	r.A, r.B = a-1, b-1
	return world.Unit{Keypad: world.Box(channels, []world.Resistor{r}), Wiring: world.Straight(channels)}
}

func pad(t *testing.T) *product.Product {
	t.Helper()
	text, err := os.ReadFile("../../testdata/products/gcc-20.yaml")
	require.NoError(t, err)
	p, err := product.Parse("gcc-20.yaml", text)
	require.NoError(t, err)
	return p
}

func TestAGoodJigPassesWhatItReadsByItself(t *testing.T) {
	r := onJig(t, empty(t, ""), nil)
	self, err := r.SelfTest(t.Context())
	require.NoError(t, err)
	t.Log(self)
	assert.Equal(t, Pass, self.Outcome, self.Bad())
	for _, read := range []func() (Result, error){
		func() (Result, error) { return r.Leakage(t.Context()) },
		func() (Result, error) { return r.Mains(t.Context()) },
		func() (Result, error) { return r.Lines(t.Context(), Capacitance, r.all()) },
	} {
		got, err := read()
		require.NoError(t, err)
		t.Log(got)
		assert.Equal(t, Pass, got.Outcome, got.Bad())
		assert.Len(t, got.Figures, channels)
	}
}

// of gives the channels, or what else is counted, whose figures are bad.
func of(r Result) (at []int) {
	for _, f := range r.Bad() {
		at = append(at, f.At)
	}
	return at
}

func TestFaultsFailTheStepThatIsThereForThem(t *testing.T) {
	leakage := func(r *Reader, t *testing.T) (Result, error) { return r.Leakage(t.Context()) }
	mains := func(r *Reader, t *testing.T) (Result, error) { return r.Mains(t.Context()) }
	lines := func(r *Reader, t *testing.T) (Result, error) { return r.Lines(t.Context(), Capacitance, r.all()) }
	every := []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}
	for _, c := range []struct {
		name string
		unit world.Unit
		read func(*Reader, *testing.T) (Result, error)
		bad  []int
		of   string
	}{
		{"dirt between two channels", dirty(4, 7, world.Resistor{Ohm: 20e6}), leakage, []int{4, 7}, "leak"},
		{"a trace of it", dirty(4, 7, world.Resistor{Ohm: 2e9}), leakage, []int{4, 7}, "leak"},
		{"as good as none", dirty(4, 7, world.Resistor{Ohm: 20e9}), leakage, nil, "leak"},
		{"inputs that take more than stated", empty(t, "inputs take 2 nA"), leakage, every, "leak"},
		{"mains as usual", empty(t, "mains 50 Hz couples 5 nA"), mains, nil, "swing at 50 Hz"},
		{"mains beside a motor", empty(t, "mains 50 Hz couples 200 nA"), mains, every, "swing at 50 Hz"},
		{"mains elsewhere", empty(t, "mains 60 Hz couples 200 nA"), mains, every, "swing at 60 Hz"},
		{"leaks do not depend on mains", empty(t, "mains 50 Hz couples 5 nA"), leakage, nil, "leak"},
		{"cables that hold too much", empty(t, "lines hold 200 pF"), lines, every, "holds"},
		{"cables as stated, and mains", empty(t, "mains 50 Hz couples 1 nA"), lines, nil, "holds"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := onJig(t, c.unit, nil)
			got, err := c.read(r, t)
			require.NoError(t, err)
			assert.Equal(t, c.bad, of(got), "%v", got)
			assert.Equal(t, map[bool]Outcome{true: Fail, false: Pass}[len(c.bad) > 0], got.Outcome)
			for _, f := range got.Figures {
				assert.Equal(t, c.of, f.Of)
			}
		})
	}
}

// A keypad may hold more than the cable, up to where the waits are too short.
func TestAKeypadThatSettlesTooSlowlyIsSeen(t *testing.T) {
	for faults, want := range map[string]Outcome{"lines hold 400 pF": Pass, "lines hold 5 nF": Fail} {
		p := pad(t)
		laid, err := world.ParseFaults(faults, p.Circuit())
		require.NoError(t, err)
		r := onJig(t, world.Unit{Keypad: p.Circuit(), Wiring: p.Wiring(), Faults: laid}, nil)
		got, err := r.Lines(t.Context(), Pad, r.all()[:4])
		require.NoError(t, err)
		assert.Equal(t, want, got.Outcome, "%s: %v", faults, got)
		limit := SlowFrom(r.Caps)
		assert.Greater(t, float64(limit), r.Caps.LineFarad, "what a jig states of itself is within what settles")
	}
}

// A jig whose converter is too slow to see a line charge says so, and passes nothing.
func TestAConverterThatIsTooSlowSaysSo(t *testing.T) {
	r := onJig(t, empty(t, ""), func(id *wire.Identity) { id.ConversionNs = 3_000_000 })
	got, err := r.Lines(t.Context(), Capacitance, r.all())
	require.NoError(t, err)
	assert.Equal(t, NotDone, got.Outcome)
	assert.Equal(t, "too fast to see", string(got.Why.Code))
}

func TestActuatorsTravelAsStated(t *testing.T) {
	p := pad(t)
	for faults, bad := range map[string][]int{"": nil, "actuator of key 7 stuck": {9, 9}, "actuator of key 7 stuck down": {9, 9}} {
		laid, err := world.ParseFaults(faults, p.Circuit())
		require.NoError(t, err)
		sim, err := jigsim.New(jigsim.Config{Keypad: p.Circuit(), Wiring: p.Wiring(), Actuators: p.Pushes(), Faults: laid, Seed: 7})
		require.NoError(t, err)
		jig, done := simport.Connect(t, sim, link.Options{})
		r := Reader{Jig: jig, Caps: jig.Capabilities()}
		got, err := r.Strokes(t.Context(), p)
		require.NoError(t, err)
		assert.Equal(t, bad, of(got), "%s: %v", faults, got.Bad())
		assert.Len(t, got.Figures, 2*len(p.Keys))
		done()
	}
}
