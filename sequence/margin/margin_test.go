package margin

import (
	"math"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/circuit"
	"padjig/fixture/quantity"
	"padjig/sequence/product"
)

func load(t *testing.T, name string) *product.Product {
	t.Helper()
	p, err := product.Load(filepath.Join("../../testdata/products", name+".yaml"))
	require.NoError(t, err)
	return p
}

func reportOf(t *testing.T, text string) *Report {
	t.Helper()
	r, err := Of(parse(t, text))
	require.NoError(t, err)
	return r
}

func TestShippedProducts(t *testing.T) {
	for _, name := range []string{"gcc-20", "bay-16", "console-104"} {
		r, err := Of(load(t, name))
		require.NoError(t, err)
		assert.Empty(t, r.Warnings, name)
		for k, key := range r.Keys {
			assert.Positive(t, key.Pressed.Margin, "%s, key %d", name, k)
			assert.Positive(t, key.Released.Margin, "%s, key %d", name, k)
			assert.Less(t, key.Typical, key.Pressed.Row, "a good unit is better than the worst")
		}
	}
	_, err := Of(load(t, "vent-6"))
	require.ErrorIs(t, err, ErrNoScanner)
}

// The limits of this product suit its scanner with every value as written, and not at the ends
// of its tolerances.
func TestLooseProduct(t *testing.T) {
	p := load(t, "loose-12")
	r, err := Of(p)
	require.NoError(t, err)
	require.NotEmpty(t, r.Warnings)
	w := r.Warnings[0]
	assert.True(t, w.Loose)
	assert.Equal(t, "1 2 3 4 5 6 7 8 9 0", labelled(p, w.Keys), "and not OPEN and SHUT, whose limit is tighter")
	assert.Contains(t, w.Says, "contact resistance limit of 1.5 kohm is looser than the scanner allows; write contact resistance at most 1.17 kohm")
	// By hand, with the supply at 3.465 V, the pull-up at 3.055 kohm and a threshold of 0.99 V
	// that stays: 3055 0.99/2.475 - 50 = 1172 ohm; two idle columns over 50 Mohm change 0.01 %.
	assert.InEpsilon(t, 1172, float64(r.Keys[0].Pressed.Allowed), 1e-3)
}

// No unit within the limits on a scanner within its tolerances is worse than the worst case.
// Each is solved as a whole: contacts and leakages at or inside their limits, supply, pull-up and
// thresholds anywhere.
func TestNoUnitIsWorseThanTheWorstCase(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 4))
	for _, scanner := range []string{floating, high} {
		p := parse(t, grid(3, 4, "limits: {contact resistance: at most 900 ohm, insulation resistance: at least 50 kohm}\n"+scanner))
		r, err := Of(p)
		require.NoError(t, err)
		nearest := quantity.Volt(1)
		for range 1000 {
			k := random.IntN(len(p.Keys))
			low, margin := anyPressed(t, random, p, k)
			nearest = min(nearest, margin-r.Keys[k].Pressed.Margin)
			assert.GreaterOrEqual(t, float64(margin), float64(r.Keys[k].Pressed.Margin), "pressed: %v", low)
		}
		if p.Scanner.IdleDriven { // floating, leakage does not quite reach the supply
			assert.Less(t, nearest, quantity.Volt(0.02), "the worst case is one that there can be")
		}
	}
}

// anyPressed is a random unit on a random scanner, now and then at the ends of what is allowed.
func anyPressed(t *testing.T, random *rand.Rand, p *product.Product, key int) (row, margin quantity.Volt) {
	t.Helper()
	s, limits := p.Scanner, p.Keys[key].Limits
	off := func(part float64) float64 { return 1 + part*float64(max(-1, min(1, 3*(random.Float64()-0.5)))) }
	f := off(s.SupplyTolerance)
	supply, pullUp := s.Supply*quantity.Volt(f), s.PullUp*quantity.Ohm(off(s.PullUpTolerance))
	n := circuit.NewNetwork()
	nodes := make([]circuit.Node, len(p.Lines))
	for i, l := range p.Lines {
		nodes[i] = n.Node()
		switch {
		case l.Kind == product.Row:
			n.Source(nodes[i], supply, pullUp)
		case i == p.Keys[key].B:
			n.Resistor(nodes[i], circuit.Earth, s.Drive)
		case s.IdleDriven:
			n.Source(nodes[i], supply, s.Drive)
		}
	}
	most := 10 * random.Float64() * float64(random.IntN(2))
	for i, k := range p.Keys {
		r := limits.RestMin * quantity.Ohm(1+most*random.Float64())
		if i == key {
			r = limits.ClosedMax * quantity.Ohm(min(1, 2*random.Float64()))
		}
		n.Resistor(nodes[k.A], nodes[k.B], r)
	}
	solution, err := n.Solve()
	require.NoError(t, err)
	low := s.Low
	if random.IntN(2) > 0 {
		low *= quantity.Volt(f)
	}
	row = solution.Volt(nodes[p.Keys[key].A])
	return row, low - row
}

// Three corners of 100, 150 and 200 ohm make the fourth read through 450 ohm (they add up, by
// hand; sneak paths as such are checked in package circuit). The pull-up of the other row sends
// its current through the last of them too: with I of row 0 and J of row 1, in mA and kohm,
// 3.3 = 10 I + 0.3 I + 0.2 (I + J) and 3.3 = 10 J + 0.2 (I + J).
func TestLevelOfAGhost(t *testing.T) {
	p := parse(t, grid(2, 2, "nominal: {track: 0 ohm, tail: 0 ohm}\nkeys:\n  2: {contact: 100 ohm}\n"+
		"  3: {contact: 150 ohm}\n  4: {contact: 200 ohm}\nlimits: {contact resistance: at most 1 kohm}\n"+floating))
	m, err := newBoard(p).solve(scan{p.Line("C0"), false, []int{1, 2, 3}})
	require.NoError(t, err)
	// Subtracting: 10.3 I = 10 J, so J = 1.03 I and 3.3 = (10.5 + 0.2 1.03) I.
	i := 3.3 / (10.5 + 0.2*1.03)
	assert.InEpsilon(t, 3.3-10*i, float64(m.line(p.Line("R0"))), 1e-9)
	assert.Less(t, m.line(p.Line("R0")), p.Scanner.Low, "a ghost reads as well as a key")
}

// A diode whose drop the limit permits takes its part of the threshold, and the conduction of a
// good unit follows Shockley's law: V = Vd(I) + I (R + drive), checked at the current found.
func TestDiodeLevels(t *testing.T) {
	p := load(t, "bay-16")
	r, err := Of(p)
	require.NoError(t, err)
	for k, key := range r.Keys {
		i := float64(p.Scanner.Supply-key.Typical) / float64(p.Scanner.PullUp)
		d := p.Nominal.Diode
		drop := d.N*float64(circuit.ThermalVoltage)*math.Log1p(i/float64(d.Is)) + i*float64(d.Rs)
		want := drop + i*float64(p.Loop(k)+p.Scanner.Drive)
		assert.InEpsilon(t, want, float64(key.Typical), 1e-4, "key %d", k)
	}
	// 6.5 kohm (1.425 V - 0.9 V) / (4.75 V - 1.425 V) - 50 ohm, by hand; leakage changes 0.02 %.
	assert.InEpsilon(t, 976.3, float64(r.Keys[0].Pressed.Allowed), 1e-3)
}

func TestWarnings(t *testing.T) {
	const tail = "scanner: {supply: 3.3 V, pull-up: 10 kohm, "
	for name, c := range map[string]struct {
		more, says string
		loose      bool
	}{
		"closed": {"limits: {contact resistance: at most 4 kohm}\n" + floating,
			"contact resistance limit of 4 kohm is looser than the scanner allows; write contact resistance at most 2.54 kohm", true},
		"rest": {"limits: {insulation resistance: at least 25 kohm}\n" + floating,
			"insulation resistance limit of 25 kohm is looser than the scanner allows; write insulation resistance at least 37.8 kohm", true},
		"no rest": {tail + "high: at least 3.2 V}", "reads released at no insulation resistance", true},
		"bounce": {tail + "debounce: 5 ms}",
			"bounce limit of 10 ms is longer than the 5 ms that the scanner sees through", true},
		"short press": {tail + "period: 22 ms}", "fewer than 2 scans, 22 ms apart; write bounce on closing at most 6 ms", true},
		"shorter":     {tail + "period: 30 ms}", "a press of 50 ms can pass between scans 30 ms apart", true},
		"settling":    {tail + "settle: 1 us}", "a line needs up to 3.605 us to settle and is read after 1 us", false},
		"slow scan":   {tail + "settle: 5 ms}", "3 columns of 5 ms each take longer than the period of 10 ms", false},
		"sink": {tail + "port current: 1 mA}",
			"all keys of column C0 held send 1.066 mA into a port rated 1 mA", false},
		"fight": {high, "held together send up to 34.65 mA", false},
	} {
		t.Run(name, func(t *testing.T) {
			r := reportOf(t, grid(2, 3, c.more))
			require.Len(t, r.Warnings, 1, "%v", r.Warnings)
			assert.Contains(t, r.Warnings[0].Says, c.says)
			assert.Equal(t, c.loose, r.Warnings[0].Loose)
			if c.loose {
				assert.Len(t, r.Warnings[0].Keys, 6)
			}
		})
	}
}

func TestKeysThatAreNeverRead(t *testing.T) {
	p := parse(t, `product: P
tail: R1 C1 GND
matrix: {rows: R1, columns: C1, keys: GO, diodes: column to row}
lines: {ground: GND}
keys: {STOP: C1 GND}
scanner: {supply: 3.3 V, pull-up: 10 kohm}`)
	r, err := Of(p)
	require.NoError(t, err)
	assert.Contains(t, r.Keys[p.Key("GO")].Unread, "diode blocks")
	assert.Contains(t, r.Keys[p.Key("STOP")].Unread, "pulled up")
	require.Len(t, r.Warnings, 2)
	assert.True(t, r.Warnings[0].Loose)
	assert.Equal(t, -1, r.Nearest([]int{0, 1}))
}

func TestDiodeThatLeavesNothing(t *testing.T) {
	r := reportOf(t, strings.Replace(grid(1, 1, "limits: {diode: 0.3 V to 1 V}\n"+floating), "matrix:",
		"matrix:\n  diodes: row to column", 1))
	require.Len(t, r.Warnings, 1)
	assert.Contains(t, r.Warnings[0].Says, "a diode of 1 V, which the limit permits, leaves nothing")
	assert.LessOrEqual(t, r.Keys[0].Pressed.Allowed, quantity.Ohm(0))
}

// Two keys of one row of 25 ohm each and drivers of 50 ohm: 3.3 V over 150 ohm is 22 mA, the row
// half way, by hand; the pull-up adds 1 %. A diode at each key leaves its saturation current.
func TestFight(t *testing.T) {
	pad := grid(1, 2, "nominal: {contact: 25 ohm, track: 0 ohm, tail: 0 ohm}\n"+high)
	f := reportOf(t, pad).Currents.Fight
	require.NotNil(t, f)
	assert.InEpsilon(t, 22e-3, float64(f.Typical), 0.01)
	assert.InEpsilon(t, 1.65, float64(f.Row), 0.01)
	assert.InEpsilon(t, 34.65e-3, float64(f.Most), 1e-9, "3.465 V over both drivers")
	assert.False(t, f.Blocked)

	f = reportOf(t, strings.Replace(pad, "matrix:", "matrix:\n  diodes: row to column", 1)).Currents.Fight
	assert.True(t, f.Blocked)
	assert.InEpsilon(t, -float64(circuit.SmallSignal.Is), -float64(f.Typical), 0.01)
	assert.Less(t, f.Row, quantity.Volt(0.99), "and the key is read")

	assert.Nil(t, reportOf(t, grid(3, 1, high)).Currents.Fight, "one column cannot fight")
}

func TestTiming(t *testing.T) {
	r := reportOf(t, grid(4, 3, "scanner: {supply: 3.3 V, pull-up: 10 kohm, pull-up tolerance: 0 %, "+
		"supply tolerance: 0 %, high: at least 2 V, low: at most 0.8 V, idle columns: driven}"))
	assert.Equal(t, 932*time.Nanosecond, r.Timing.Rise.Round(time.Nanosecond), "one line of 100 pF")
	assert.Equal(t, 90*time.Microsecond, r.Timing.Scan)
	assert.Equal(t, 4, r.Keys[0].Scans, "(50 ms - 10 ms) / 10 ms")
	assert.Less(t, r.Timing.Fall, r.Timing.Rise)
}
