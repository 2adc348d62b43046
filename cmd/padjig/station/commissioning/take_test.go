package commissioning

import (
	"context"
	"errors"
	"path/filepath"
	"strings"
	"sync"
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
	"padjig/fixture/wire"
	"padjig/results"
	"padjig/results/care"
	"padjig/sequence/commission"
	"padjig/sequence/product"
	"padjig/sequence/refbox"
)

const port = "jig0"

// bench is a simulated jig with somebody at it, and records.
type bench struct {
	t     *testing.T
	ports simport.Ports
	sim   *jigsim.Jig
	store *results.Store
	pad   *product.Product
	order Order

	mu     sync.Mutex
	asked  []string
	ended  []commission.Result
	does   func(Ask) bool // what the person does in place of what is asked; false: that
	agrees bool
	faults string // of the jig with nothing in the nest, and with a keypad
}

func newBench(t *testing.T) *bench {
	t.Helper()
	pad, err := product.Load("../../../../testdata/products/gcc-20.yaml")
	require.NoError(t, err)
	box, err := refbox.Load("../../../../testdata/boxes/rb-1.yaml")
	require.NoError(t, err)
	store, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "records.db"))
	require.NoError(t, err)
	b := &bench{t: t, store: store, pad: pad, order: Order{Operator: "Ines", Box: box, Product: pad}, agrees: true}
	b.plug("SIM-0042", "jigsim 1")
	return b
}

// plug puts a jig on the port in place of the one there was, with a unit in it.
func (b *bench) plug(serial, firmware string) {
	b.t.Helper()
	id := jigsim.Defaults()
	id.Serial, id.Firmware, id.Channels = serial, firmware, 16
	sim, err := jigsim.New(jigsim.Config{Identity: id, Keypad: b.pad.Circuit(), Wiring: b.pad.Wiring(), Actuators: b.pad.Pushes(),
		Contact: b.pad.Nominal.Contact, Seed: 3})
	require.NoError(b.t, err)
	b.sim = sim
	b.ports.Plug(port, sim)
}

// act does at the jig what is asked.
func (b *bench) act(ask Ask) {
	b.mu.Lock()
	b.asked = append(b.asked, strings.TrimSpace(string(ask.Code)+" "+strings.Join(ask.Args[:min(1, len(ask.Args))], "")))
	other := b.does
	b.mu.Unlock()
	if other != nil && other(ask) {
		return
	}
	switch ask.Code {
	case "open":
		b.sim.Lid(true)
	case "close":
		time.Sleep(time.Second) // fake time: a hand takes longer than the jig needs to count
		b.sim.Lid(false)
	case "press", "release":
		b.sim.Emergency(ask.Code == "press")
	case "still":
		b.sim.Lid(false)
		b.sim.Emergency(false)
	case "nest":
		b.lay(commission.Nest(ask.Args[0]))
	}
}

func (b *bench) lay(what commission.Nest) {
	channels := 16
	keypad := b.pad.Circuit()
	switch what {
	case commission.Empty:
		require.NoError(b.t, b.sim.Empty())
		return
	case commission.Plug:
		require.NoError(b.t, b.sim.Load(world.Unit{Keypad: world.Plug(channels), Wiring: world.Straight(channels)}))
	case commission.Box:
		require.NoError(b.t, b.sim.Load(boxed(b.order.Box, channels)))
	case commission.Keypad:
		faults, err := world.ParseFaults(b.faults, keypad)
		require.NoError(b.t, err)
		require.NoError(b.t, b.sim.Load(world.Unit{Keypad: keypad, Contact: b.pad.Nominal.Contact, Faults: faults, Seed: 3}))
	}
}

func boxed(box *refbox.Box, channels int) world.Unit {
	var all []world.Resistor
	for _, r := range box.Resistors {
		all = append(all, world.Resistor{A: r.Pins[0] - 1, B: r.Pins[1] - 1, Ohm: r.Ohm})
	}
	return world.Unit{Keypad: world.Box(channels, all), Wiring: world.Straight(channels)}
}

// take has what is on the port commissioned.
func (b *bench) take(ctx context.Context) (care.Commissioning, error) {
	jig, err := b.ports.Open(ctx, port, link.Options{})
	require.NoError(b.t, err)
	defer func() { _ = jig.Close() }()
	return Take(ctx, b.store, jig, b.order, Hooks{
		Begun: func(care.Commissioning) {}, Step: func(commission.Step) {}, Tell: b.act,
		Agree: func(context.Context, Ask) (bool, error) { return b.agrees, nil },
		Ended: func(s care.CommissionStep) { b.ended = append(b.ended, s.Result) },
	})
}

// last is the result of a step that ended.
func (b *bench) last(step commission.Step) (last commission.Result) {
	for _, r := range b.ended {
		if r.Step == step {
			last = r
		}
	}
	return last
}

// with has a test on a bench in fake time.
func with(t *testing.T, test func(*testing.T, *bench)) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		test(t, b)
		b.ports.Close()
		require.NoError(t, b.store.Close())
	})
}

func TestAGoodJigIsCommissioned(t *testing.T) {
	with(t, func(t *testing.T, b *bench) {
		c, err := b.take(t.Context())
		require.NoError(t, err)
		assert.Empty(t, c.Progress().Missing(c.Caps()), "%v", b.ended)
		assert.Len(t, b.ended, len(commission.Steps()))
		assert.Equal(t, []string{"nest empty", "open", "close", "press", "release", "nest plug", "nest box", "nest keypad"}, b.asked,
			"the nest is changed as seldom as can be")
		state, err := b.store.Care.CommissionState(t.Context(), c.Jig, true)
		require.NoError(t, err)
		assert.Equal(t, care.Commissioned, state.Status)
		for _, kind := range []string{"zero", "verify"} {
			list, err := b.store.Care.Calibrations(t.Context(), "SIM-0042", true)
			require.NoError(t, err)
			require.Len(t, list, 2, kind)
		}
	})
}

// What fails is said, stored, and stops what rests on it; the rest is done.
func TestEachFaultFailsItsStep(t *testing.T) {
	for name, c := range map[string]struct {
		does    func(*bench, Ask) bool
		faults  string
		fails   commission.Step
		skipped []commission.Step
	}{
		"a guard that nobody sees": {does: func(_ *bench, a Ask) bool { return a.Code == "open" },
			fails: commission.Guard, skipped: []commission.Step{commission.Travel}},
		"an emergency stop that nobody sees": {does: func(_ *bench, a Ask) bool { return a.Code == "press" },
			fails: commission.Emergency, skipped: []commission.Step{commission.Travel}},
		"an actuator that hangs":  {faults: "actuator of key 7 stuck", fails: commission.Travel},
		"a cable on the keypad":   {faults: "lines hold 5 nF", fails: commission.Pad},
		"a dirty plug's channel":  {does: layDirtyPlug, fails: commission.Zero, skipped: []commission.Step{commission.Verify}},
		"references that drifted": {does: layDriftedBox, fails: commission.Verify},
	} {
		t.Run(name, func(t *testing.T) {
			with(t, func(t *testing.T, b *bench) {
				b.faults = c.faults
				if c.does != nil {
					b.does = func(a Ask) bool { return c.does(b, a) }
				}
				got, err := b.take(t.Context())
				require.NoError(t, err)
				progress := got.Progress()
				for _, step := range commission.Steps() {
					want := commission.Pass
					if step == c.fails {
						want = commission.Fail
					}
					for _, s := range c.skipped {
						if s == step {
							want = commission.NotDone
							assert.Equal(t, "lacks", string(b.last(step).Why.Code))
						}
					}
					assert.Equal(t, want, progress[step], "%s: %v", step, b.last(step))
				}
				state, err := b.store.Care.CommissionState(t.Context(), got.Jig, true)
				require.NoError(t, err)
				assert.Equal(t, care.CommissionFailed, state.Status)
			})
		})
	}
}

func layDirtyPlug(b *bench, a Ask) bool {
	if a.Code != "nest" || a.Args[0] != string(commission.Plug) {
		return false
	}
	plug := world.Plug(16)
	faults, err := world.ParseFaults("channel 4 adds 3 ohm", plug)
	require.NoError(b.t, err)
	require.NoError(b.t, b.sim.Load(world.Unit{Keypad: plug, Wiring: world.Straight(16), Faults: faults}))
	return true
}

func layDriftedBox(b *bench, a Ask) bool {
	if a.Code != "nest" || a.Args[0] != string(commission.Box) {
		return false
	}
	unit := boxed(b.order.Box, 16)
	var err error
	unit.Faults, err = world.ParseFaults("jig reference 1 drifted 0.5 %", unit.Keypad)
	require.NoError(b.t, err)
	require.NoError(b.t, b.sim.Load(unit))
	return true
}

// What lies in the nest is not taken on trust: a unit where it has to be empty, nothing where a
// keypad has to be, another box, the plug in place of the box.
func TestWhatLiesInTheNestIsLookedAt(t *testing.T) {
	left := func(b *bench, a Ask) bool { // the lid is opened and closed, and nothing taken out
		if a.Code == "nest" {
			b.lay(commission.Keypad)
		}
		return a.Code == "nest"
	}
	nothing := func(b *bench, a Ask) bool {
		if a.Code == "nest" {
			b.lay(commission.Empty)
		}
		return a.Code == "nest"
	}
	sister := func(b *bench, a Ask) bool {
		if a.Code != "nest" || a.Args[0] != string(commission.Box) {
			return false
		}
		box, err := refbox.Load("../../../../testdata/boxes/rb-1-sister.yaml")
		require.NoError(b.t, err)
		require.NoError(b.t, b.sim.Load(boxed(box, 16)))
		return true
	}
	for name, c := range map[string]struct {
		does func(*bench, Ask) bool
		step commission.Step
		why  string
	}{
		"a unit left in it":                      {left, commission.SelfTest, "not empty"},
		"the plug never came":                    {nothing, commission.Zero, "calibration refused"},
		"nor did the keypad":                     {nothing, commission.Pad, "not seated"},
		"a sister of the box":                    {sister, commission.Verify, "calibration refused"},
		"and without a zero it is not looked at": {nothing, commission.Verify, "lacks"},
	} {
		t.Run(name, func(t *testing.T) {
			with(t, func(t *testing.T, b *bench) {
				b.does = func(a Ask) bool { return c.does(b, a) }
				got, err := b.take(t.Context())
				require.NoError(t, err)
				assert.Equal(t, commission.NotDone, got.Progress()[c.step])
				assert.Equal(t, c.why, string(b.last(c.step).Why.Code), "%v", b.last(c.step))
				assert.NotEmpty(t, got.Progress().Missing(got.Caps()))
			})
		})
	}
}

// A crash, a pulled plug or Ctrl-C between two steps loses no step, and the step under way is
// done again.
func TestItGoesOnWhereItWasBrokenOff(t *testing.T) {
	with(t, func(t *testing.T, b *bench) {
		ctx, crash := context.WithCancel(t.Context())
		b.does = func(a Ask) bool {
			if a.Code == "press" {
				crash()
			}
			return false
		}
		_, err := b.take(ctx)
		require.ErrorIs(t, err, context.Canceled)
		b.sim.Emergency(false)
		before := b.ended
		require.Len(t, before, 2)

		b.does, b.asked, b.ended = nil, nil, nil
		b.order.Operator = "Jon"
		c, err := b.take(t.Context())
		require.NoError(t, err)
		assert.Equal(t, int64(1), c.Number, "the same one")
		assert.Equal(t, commission.Emergency, b.ended[0].Step)
		assert.Empty(t, c.Progress().Missing(c.Caps()), "%v", b.ended)
		assert.Equal(t, "Ines", c.Last()[0].By)
		assert.Equal(t, "Jon", c.Last()[2].By)
	})
}

// Another jig at the port half way is another jig: nothing of the one goes to the other, and
// what is pulled out ends it.
func TestAnotherJigHalfWay(t *testing.T) {
	with(t, func(t *testing.T, b *bench) {
		b.does = func(a Ask) bool {
			if a.Code == "press" {
				b.ports.Unplug(port)
				b.plug("SIM-0043", "jigsim 1")
			}
			return false
		}
		_, err := b.take(t.Context())
		require.Error(t, err)
		assert.NotErrorIs(t, err, errNobody)
		b.does, b.ended = nil, nil
		c, err := b.take(t.Context())
		require.NoError(t, err)
		assert.Equal(t, "SIM-0043", c.Jig.Serial)
		assert.Len(t, b.ended, len(commission.Steps()), "from the start")
		first, err := b.store.Care.Commissionings(t.Context(), "SIM-0042", true)
		require.NoError(t, err)
		assert.Len(t, first[0].Steps, 2)

		// The same jig with another firmware is commissioned anew as well.
		b.ports.Unplug(port)
		b.plug("SIM-0043", "jigsim 2")
		b.ended = nil
		again, err := b.take(t.Context())
		require.NoError(t, err)
		assert.NotEqual(t, c.Number, again.Number)
		assert.Len(t, b.ended, len(commission.Steps()))
	})
}

// Two people at once: who goes on with what somebody else has begun anew is told, and stores nothing.
func TestTwoPeopleAtOnce(t *testing.T) {
	with(t, func(t *testing.T, b *bench) {
		b.does = func(a Ask) bool {
			if a.Code == "press" { // another program with the same records
				_, err := b.store.Care.BeginCommissioning(t.Context(), b.caps(), "Jon")
				require.NoError(t, err)
			}
			return false
		}
		_, err := b.take(t.Context())
		require.ErrorIs(t, err, care.ErrOvertaken)
		_, notKept := errors.AsType[*NotKeptError](err)
		assert.True(t, notKept)
	})
}

func (b *bench) caps() fixture.Capabilities {
	list, err := b.store.Care.Commissionings(b.t.Context(), "SIM-0042", true)
	require.NoError(b.t, err)
	return list[len(list)-1].Caps()
}

// Steps out of order: what moves is not done before what stops it, whatever is asked for.
func TestStepsOutOfOrder(t *testing.T) {
	with(t, func(t *testing.T, b *bench) {
		b.order.Only = commission.Travel
		c, err := b.take(t.Context())
		require.NoError(t, err)
		assert.Equal(t, commission.NotDone, c.Progress()[commission.Travel])
		assert.Equal(t, "lacks", string(b.last(commission.Travel).Why.Code))
		assert.Empty(t, b.asked)
		for _, presses := range b.sim.Counts().Presses {
			assert.Zero(t, presses)
		}
	})
}

// Nobody at a terminal: what is answered by a pipe is no yes, and nothing moves.
func TestNothingMovesWithoutAYes(t *testing.T) {
	with(t, func(t *testing.T, b *bench) {
		b.agrees = false
		c, err := b.take(t.Context())
		require.NoError(t, err)
		assert.Equal(t, commission.NotDone, c.Progress()[commission.Travel])
		assert.Equal(t, "nobody", string(b.last(commission.Travel).Why.Code))
		for _, presses := range b.sim.Counts().Presses {
			assert.Zero(t, presses)
		}
	})
}

// A rail that stays alive with the guard open fails the step, and nothing moves after it.
func TestARailThatStaysAlive(t *testing.T) {
	for _, alive := range []bool{true, false} {
		with(t, func(t *testing.T, b *bench) {
			b.ports.PlugChanged(port, b.sim, func(f *wire.Frame) {
				switch f.Type {
				case wire.TypeIdentity:
					id, err := wire.ParseIdentity(f.Payload)
					require.NoError(t, err)
					id.Features |= wire.FeatureRail
					f.Payload, err = wire.AppendIdentity(nil, id)
					require.NoError(t, err)
				case wire.TypeState:
					s, err := wire.ParseState(f.Payload)
					require.NoError(t, err)
					s.Rail = alive || s.Interlock && !s.Emergency
					f.Payload = wire.AppendState(nil, s)
				}
			})
			c, err := b.take(t.Context())
			require.NoError(t, err)
			want := map[bool]commission.Outcome{true: commission.Fail, false: commission.Pass}[alive]
			assert.Equal(t, want, c.Progress()[commission.Guard], "%v", b.last(commission.Guard))
			assert.Equal(t, want, c.Progress()[commission.Emergency], "%v", b.last(commission.Emergency))
			if alive {
				assert.Equal(t, []string{"rail dead"}, names(b.last(commission.Guard).Bad()))
				assert.Equal(t, commission.NotDone, c.Progress()[commission.Travel])
			}
		})
	}
}

func names(figures []commission.Figure) (of []string) {
	for _, f := range figures {
		of = append(of, f.Of)
	}
	return of
}

// A jig that states shorter travel than its actuators take is found out.
func TestTravelIsHeldAgainstWhatIsStated(t *testing.T) {
	with(t, func(t *testing.T, b *bench) {
		b.ports.PlugChanged(port, b.sim, func(f *wire.Frame) {
			if id, err := wire.ParseIdentity(f.Payload); f.Type == wire.TypeIdentity && err == nil {
				id.TravelDownUs = 9_000
				f.Payload, _ = wire.AppendIdentity(nil, id)
			}
		})
		c, err := b.take(t.Context())
		require.NoError(t, err)
		assert.Equal(t, commission.Fail, c.Progress()[commission.Travel])
		assert.Equal(t, "down", b.last(commission.Travel).Bad()[0].Of)
	})
}
