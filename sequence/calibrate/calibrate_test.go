package calibrate_test

import (
	"context"
	"math"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/circuit"
	"padjig/fixture/jigsim"
	"padjig/fixture/jigsim/world"
	"padjig/fixture/link"
	"padjig/fixture/quantity"
	"padjig/fixture/simport"
	"padjig/sequence"
	"padjig/sequence/calibrate"
	"padjig/sequence/refbox"
)

func loadBox(t testing.TB, name string) *refbox.Box {
	t.Helper()
	box, err := refbox.Load("../../testdata/boxes/" + name + ".yaml")
	require.NoError(t, err)
	return box
}

// summer is a day on which the demonstration certificates hold.
var summer = calibrate.Occasion{
	Now: time.Date(2026, 7, 1, 6, 0, 0, 0, time.UTC), Operator: "ana", Interval: sequence.ZeroInterval,
}

// nest is a ten-channel jig with something in it that is no unit.
type nest struct {
	keypad   *circuit.Keypad
	faults   string
	seed     uint64
	channels uint8
}

func plugged(faults string) nest { return nest{keypad: world.Plug(10), faults: faults, seed: 5} }

func boxed(box *refbox.Box, faults string) nest {
	var resistors []world.Resistor
	for _, r := range box.Resistors {
		resistors = append(resistors, world.Resistor{A: r.Pins[0] - 1, B: r.Pins[1] - 1, Ohm: r.Ohm})
	}
	return nest{keypad: world.Box(10, resistors), faults: faults, seed: 5}
}

// with opens the jig and has something done with it.
func (n nest) with(t testing.TB, do func(*fixture.Jig)) {
	t.Helper()
	faults, err := world.ParseFaults(n.faults, n.keypad)
	require.NoError(t, err)
	id := jigsim.Defaults()
	id.Channels = max(n.channels, 10)
	sim, err := jigsim.New(jigsim.Config{
		Identity: id, Keypad: n.keypad, Wiring: world.Straight(len(n.keypad.Lines)), Actuators: []int{},
		Faults: faults, Seed: n.seed,
	})
	require.NoError(t, err)
	jig, disconnect := simport.Connect(t, sim, link.Options{})
	defer disconnect()
	do(jig)
}

func (n nest) zero(t testing.TB) (c sequence.Calibration, err error) {
	t.Helper()
	n.with(t, func(jig *fixture.Jig) {
		c, err = calibrate.Zero(context.Background(), jig, jig.Capabilities(), summer)
	})
	return c, err
}

func (n nest) verify(t testing.TB, box *refbox.Box, zeros []fixture.Resistance) (c sequence.Calibration, err error) {
	t.Helper()
	n.with(t, func(jig *fixture.Jig) {
		jig = jig.Zeroed(zeros)
		c, err = calibrate.Verify(context.Background(), jig, jig.Capabilities(), box, summer)
	})
	return c, err
}

func TestZeroFindsWhatEachChannelAdds(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c, err := plugged("channel 4 adds 0.5 ohm; channel 10 adds 1.5 ohm").zero(t)
		require.NoError(t, err)
		assert.True(t, c.Good)
		assert.Equal(t, sequence.KindZero, c.Kind)
		assert.Equal(t, "SIM-0001", c.Jig.Serial)
		assert.True(t, c.Simulated)
		assert.Equal(t, summer.Now.Add(7*24*time.Hour), c.Due())
		require.Len(t, c.Zeros(), 10)
		for i, z := range c.Zeros() {
			want := map[int]float64{0: 0, 3: 0.502, 9: 1.502}[i]
			if i != 0 && i != 3 && i != 9 {
				want = 0.002
			}
			assert.InDelta(t, want, float64(z.Value), 4*float64(z.U), "channel %d", i+1)
			assert.Less(t, float64(z.U), 0.003)
			assert.Positive(t, float64(z.U))
		}
	})
}

func TestZeroStatesItsUncertainty(t *testing.T) {
	const runs = 60
	inside, all := 0, 0
	for seed := range uint64(runs) {
		synctest.Test(t, func(t *testing.T) {
			n := plugged("")
			n.seed = seed
			c, err := n.zero(t)
			require.NoError(t, err)
			for i, z := range c.Zeros() {
				truth := 0.002
				if i == 0 {
					truth = 0
				}
				all++
				if math.Abs(float64(z.Value)-truth) <= 2*float64(z.U) {
					inside++
				}
			}
		})
	}
	share := float64(inside) / float64(all)
	t.Logf("the interval with k = 2 holds the truth in %.1f %% of %d zeros", 100*share, all)
	// 95.45 % for a normal distribution; readings are shared between channels,
	// so the spread is that of fewer: five standard deviations of all/2.
	assert.InDelta(t, 0.9545, share, 5*math.Sqrt(0.9545*0.0455/float64(all/2)))
}

func TestZeroWithoutThePlug(t *testing.T) {
	pad := load(t, "gcc-20").Circuit()
	half := world.Plug(10)
	half.Bridges = half.Bridges[:7] // does not reach the last two
	split := world.Plug(10)
	split.Bridges = append(split.Bridges[:4:4], split.Bridges[5:]...)
	for name, c := range map[string]struct {
		nest nest
		want string
	}{
		"a unit in its place":    {nest{keypad: pad}, "20 of 20 pairs of channels are open; put the plug in"},
		"a box in its place":     {boxed(loadBox(t, "rb-1"), ""), "20 of 20 pairs of channels are open; put the plug in"},
		"nothing in":             {nest{keypad: world.Box(10, nil)}, "20 of 20 pairs of channels are open; put the plug in"},
		"not fully in":           {nest{keypad: half}, "it does not reach channel 9 and 10; push it fully in"},
		"one leg broken":         {nest{keypad: split}, "it does not reach channel 6; push it fully in"},
		"a probe does not touch": {plugged("channel 7 dirty open"), "it does not reach channel 7; push it fully in"},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				_, err := c.nest.zero(t)
				require.ErrorIs(t, err, calibrate.ErrNoPlug)
				assert.Contains(t, told(err), c.want)
				assert.Contains(t, told(err), "then zero again")
			})
		})
	}
}

// A channel that drifts is caught by the zero, and by the verification when
// nobody zeroed since.
func TestChannelThatDrifts(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c, err := plugged("channel 4 adds 3 ohm").zero(t)
		require.NoError(t, err)
		assert.False(t, c.Good)
		assert.Regexp(t, `^channel 4 has (2\.99|3\.00)\d* .* in series, at most 2 ohm allowed$`, c.Reason)

		before, err := plugged("").zero(t)
		require.NoError(t, err)
		box := loadBox(t, "rb-1")
		c, err = boxed(box, "channel 4 adds 3 ohm").verify(t, box, before.Zeros())
		require.NoError(t, err)
		assert.False(t, c.Good)
		assert.Regexp(t, `^out of tolerance: channel 4 reads (2\.9|3|3\.0)\d* ohm more than at the last zero$`, c.Reason)
	})
}

func TestVerifyAGoodJig(t *testing.T) {
	box := loadBox(t, "rb-1")
	for seed := range uint64(20) {
		synctest.Test(t, func(t *testing.T) {
			plug := plugged("channel 2 adds 0.8 ohm")
			plug.seed = seed
			zero, err := plug.zero(t)
			require.NoError(t, err)
			in := boxed(box, "channel 2 adds 0.8 ohm")
			in.seed = seed
			c, err := in.verify(t, box, zero.Zeros())
			require.NoError(t, err)
			assert.True(t, c.Good, c.Reason)
			assert.Equal(t, []string{"RB-1", "RB-1-0007", "DEMO-2026-0418"}, []string{c.Box, c.BoxSerial, c.Certificate})
			require.Len(t, calibrate.Ranges(c), 4)
			assert.Len(t, calibrate.Channels(c), 10)
			assert.Len(t, c.Readings, 15)
			for _, r := range calibrate.Ranges(c) {
				assert.Less(t, math.Abs(r.Deviation), 1e-3)
				assert.InDelta(t, 2*r.U, r.Limit, 0.1*r.Limit, "the limit is twice U, of which the box is a small part")
			}
		})
	}
}

func TestDriftedReferenceIsTheJigs(t *testing.T) {
	box := loadBox(t, "rb-1")
	for rng, name := range []string{"500 ohm", "5 kohm", "50 kohm", "1 Mohm"} {
		synctest.Test(t, func(t *testing.T) {
			fault := "jig reference " + string(rune('1'+rng)) + " drifted 0.5 %"
			zero, err := plugged("").zero(t)
			require.NoError(t, err)
			c, err := boxed(box, fault).verify(t, box, zero.Zeros())
			require.NoError(t, err)
			assert.False(t, c.Good)
			assert.Regexp(t, `^out of tolerance: range `+name+` by -0\.[45]\d %$`, c.Reason)
			for i, r := range calibrate.Ranges(c) {
				assert.Equal(t, i != rng, r.Good, "range %v", r.Reference)
			}
		})
	}
}

func TestSwappedBox(t *testing.T) {
	rb1, sister := loadBox(t, "rb-1"), loadBox(t, "rb-1-sister")
	other := *rb1
	other.Resistors = append([]refbox.Resistor{}, rb1.Resistors...)
	other.Resistors[3].Ohm = 2200
	gone := *rb1
	gone.Resistors = rb1.Resistors[1:]
	for name, c := range map[string]struct {
		in   nest
		want error
		text string
	}{
		"its sister":   {boxed(sister, ""), calibrate.ErrOtherBox, "each by the same on every range"},
		"another kind": {boxed(&other, ""), calibrate.ErrOtherBox, "between pins 4 and 5 there are 2."},
		"none":         {nest{keypad: world.Box(10, nil)}, calibrate.ErrNoBox, "every pair of pins is open; put the box in"},
		"not fully in": {boxed(&gone, ""), calibrate.ErrNoBox, "open between pins 1-2; push it fully in"},
		"plug":         {plugged(""), calibrate.ErrOtherBox, "read the label on the box"},
		"unit":         {nest{keypad: load(t, "gcc-20").Circuit()}, calibrate.ErrNoBox, "every pair of pins is open"},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				zero, err := plugged("").zero(t)
				require.NoError(t, err)
				_, err = c.in.verify(t, rb1, zero.Zeros())
				require.ErrorIs(t, err, c.want)
				assert.Contains(t, told(err), c.text)
			})
		})
	}
}

// told is an error with what to do about it.
func told(err error) string { return err.Error() + "; " + calibrate.RemedyOf(err) }

// None of the four swaps and drifts is taken for another, whatever the jig's
// own resistors and noise are.
func TestExplanationsAreToldApart(t *testing.T) {
	rb1, sister := loadBox(t, "rb-1"), loadBox(t, "rb-1-sister")
	for seed := range uint64(25) {
		synctest.Test(t, func(t *testing.T) {
			verify := func(n nest) (sequence.Calibration, error) {
				n.seed = seed
				plug := plugged("")
				plug.seed = seed
				zero, err := plug.zero(t)
				require.NoError(t, err)
				return n.verify(t, rb1, zero.Zeros())
			}
			_, err := verify(boxed(sister, ""))
			assert.ErrorIs(t, err, calibrate.ErrOtherBox)
			c, err := verify(boxed(rb1, "jig reference 1 drifted 0.5 %; jig reference 3 drifted 0.4 %"))
			require.NoError(t, err)
			assert.Contains(t, c.Reason, "range 500 ohm by -0.")
			assert.Contains(t, c.Reason, "range 50 kohm by -0.")
			c, err = verify(boxed(rb1, "channel 6 adds 2 ohm"))
			require.NoError(t, err)
			assert.Contains(t, c.Reason, "channel 6 reads")
		})
	}
}

func TestBoxThatWillNotDo(t *testing.T) {
	rb1 := loadBox(t, "rb-1")
	small, coarse, wide := *rb1, *rb1, *rb1
	small.Resistors = rb1.Resistors[3:7]
	coarse.Resistors = append([]refbox.Resistor{}, rb1.Resistors...)
	coarse.Resistors[4].U = 0.05
	wide.Resistors = append([]refbox.Resistor{{Name: "Z", Pins: [2]int{10, 11}, Ohm: 100, U: 0.001}}, rb1.Resistors...)
	broken := *loadBox(t, "rb-1-expired")
	broken.Certificate = "DEMO; 2025"
	for name, c := range map[string]struct {
		box  *refbox.Box
		want error
		text string
	}{
		"expired": {loadBox(t, "rb-1-expired"), calibrate.ErrExpired,
			"DEMO-2025-0112 held until 2026-01-12; have the box calibrated, or use another"},
		"certificate with a break in its name": {&broken, calibrate.ErrExpired,
			"DEMO; 2025 held until 2026-01-12; have the box calibrated, or use another"},
		"no resistor for a range": {&small, calibrate.ErrUnfitBox,
			"no resistor from 5 kohm to 500 kohm to check range 3 (50 kohm) with"},
		"too coarse": {&coarse, calibrate.ErrUnfitBox, "more than a quarter of the limit"},
		"too wide":   {&wide, calibrate.ErrUnfitBox, "a resistor on pin 11, the jig 10 channels"},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				_, err := boxed(rb1, "").verify(t, c.box, nil)
				require.ErrorIs(t, err, c.want)
				assert.Contains(t, told(err), c.text)
			})
		})
	}
}

// The zero takes off the readings of a run what a channel adds, so that a
// keypad is judged by itself.
func TestZeroReachesTheRun(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := load(t, "gcc-20")
		read := func(faults string, zeros []fixture.Resistance) quantity.Ohm {
			return tested(t, p, faults, zeros).Keys[0].Closed.Value // R1 is on channel 1
		}
		zero, err := plugged("channel 1 adds 1.5 ohm").zero(t)
		require.NoError(t, err)
		plain, added := read("", nil), read("channel 1 adds 1.5 ohm", nil)
		assert.InDelta(t, 1.5, float64(added-plain), 0.1)
		corrected := read("channel 1 adds 1.5 ohm", zero.Zeros())
		assert.InDelta(t, float64(plain), float64(corrected), 0.1)
	})
}

func TestTooFewChannels(t *testing.T) {
	_, err := calibrate.Zero(t.Context(), nil, fixture.Capabilities{Serial: "J", Channels: 2}, summer)
	assert.ErrorContains(t, err, "it takes 3 to tell them apart")
}

// A jig that stops for its interlock says so, and nothing is made of it.
func TestCalibrationInterrupted(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		_, err := plugged("jig opens interlock at routine 5").zero(t)
		require.ErrorIs(t, err, fixture.ErrInterlock)
		assert.False(t, strings.Contains(err.Error(), "plug"))
	})
}

// What surrounds a jig makes no verification of it bad: it is good, or doubtful and nothing is
// recorded. And the wrong thing in the nest is told before the jig is doubted.
func TestVerifyIsPatient(t *testing.T) {
	box := loadBox(t, "rb-1")
	for around, good := range map[string]bool{
		"mains 50 Hz couples 5 nA": true, "mains 50 Hz couples 20 nA": true, "lines soak 0.5 %": true, "lines hold 900 pF": true,
		"inputs take 5 nA": false, "mains 60 Hz couples 50 nA": false, "mains 50 Hz couples 50 nA; lines hold 900 pF": false,
	} {
		for seed := range uint64(5) {
			n := boxed(box, around)
			n.seed = seed
			c, err := n.verify(t, box, nil)
			if !good && (err != nil || strings.HasPrefix(around, "inputs")) {
				assert.ErrorIs(t, err, calibrate.ErrDoubtful, "%s, seed %d", around, seed)
				continue
			}
			if assert.NoError(t, err, "%s, seed %d", around, seed) {
				assert.True(t, c.Good, "%s, seed %d: %s", around, seed, c.Reason)
				assert.Len(t, c.SelfTest.Checks, 4)
			}
		}
	}
	_, err := plugged("inputs take 5 nA").verify(t, box, nil)
	assert.ErrorIs(t, err, calibrate.ErrOtherBox)
}
