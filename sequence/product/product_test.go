package product

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/circuit"
	"padjig/fixture/quantity"
)

func parse(t *testing.T, lines ...string) *Product {
	t.Helper()
	p, err := Parse("test.yaml", []byte(strings.Join(lines, "\n")+"\n"))
	require.NoError(t, err)
	return p
}

func load(t *testing.T, name string) *Product {
	t.Helper()
	p, err := Load(filepath.Join("../../testdata/products", name))
	require.NoError(t, err)
	return p
}

// grid builds a product with rows of labels, rows r1.. and columns c1...
func grid(t *testing.T, rows ...string) *Product {
	t.Helper()
	var r, c []string
	for i := range rows {
		r = append(r, fmt.Sprintf("r%d", i+1))
	}
	for i := range strings.Fields(rows[0]) {
		c = append(c, fmt.Sprintf("c%d", i+1))
	}
	axes := [2]string{strings.Join(r, " "), strings.Join(c, " ")}
	return parse(t, "product: GRID", "tail: "+axes[0]+" "+axes[1], "matrix:", "  rows: "+axes[0],
		"  columns: "+axes[1],
		"  keys: |", "    "+strings.Join(rows, "\n    "))
}

// crossing gives the label of the key that joins two lines, "" when none does.
func (p *Product) crossing(a, b int) string {
	for _, k := range p.Keys {
		if k.A == a && k.B == b {
			return k.Label
		}
	}
	return ""
}

func TestShippedProducts(t *testing.T) {
	for name, want := range map[string]struct{ keys, rows, columns, pins int }{
		"gcc-20.yaml": {20, 5, 4, 10}, "vent-6.yaml": {6, 0, 0, 9}, "bay-16.yaml": {16, 4, 4, 9},
		"console-104.yaml": {104, 8, 16, 26},
	} {
		t.Run(name, func(t *testing.T) {
			p := load(t, name)
			assert.Len(t, p.Keys, want.keys)
			assert.Len(t, p.Rows, want.rows)
			assert.Len(t, p.Columns, want.columns)
			assert.Len(t, p.Tail, want.pins)
			require.NoError(t, p.Serial.Check(p.Serial.Example()))
			consistent(t, p)
		})
	}
}

// consistent holds what every product promises.
func consistent(t *testing.T, p *Product) {
	t.Helper()
	on := make([]int, len(p.Lines))
	for i, k := range p.Keys {
		require.Less(t, k.A, k.B)
		require.Equal(t, i, p.Key(k.Label))
		on[k.A]++
		on[k.B]++
		require.Less(t, k.Limits.ClosedMax, k.Limits.RestMin)
		require.Equal(t, k.Diode == NoDiode, k.Limits.ForwardMax == 0)
		require.Greater(t, p.Loop(i), k.Limits.ClosedMin)
		require.Less(t, p.Loop(i), k.Limits.ClosedMax)
	}
	for i, l := range p.Lines {
		require.Equal(t, i, p.Line(l.Name))
		require.Equal(t, l.Name, p.Tail[l.Pin-1])
		require.Len(t, l.Track, on[i])
	}
}

func TestDemoPad(t *testing.T) {
	p := load(t, "gcc-20.yaml")
	vent := p.Keys[p.Key("VENT")]
	assert.Equal(t, "action", vent.Group)
	assert.EqualValues(t, 300, vent.Limits.ClosedMax)
	assert.EqualValues(t, 10e6, vent.Limits.RestMin)
	assert.Equal(t, 10*time.Millisecond, vent.Limits.Make)
	assert.EqualValues(t, 200, p.Keys[p.Key("5")].Limits.ClosedMax)
	assert.Equal(t, Line{Name: "SH", Kind: Shield, Pin: 10}, p.Lines[p.Line("SH")])
	assert.Equal(t, []int{16, 12, 8, 4, 0}, p.Lines[p.Line("C1")].Track, "columns begin at the bottom edge")
	assert.Equal(t, []int{0, 1, 2, 3}, p.Lines[p.Line("R1")].Track)
	scanner := usualScanner
	scanner.Supply, scanner.PullUp, scanner.Low, scanner.High, scanner.Drive = 3.3, 47e3, 0.99, 2.31, 40
	assert.Equal(t, &scanner, p.Scanner)
	assert.Equal(t, Test{MaxCurrent: 5e-3, MaxVoltage: 5}, p.Test)
	assert.Equal(t, 2, p.Attempts)
	assert.Equal(t, 3, p.RepairLoops, "where the file does not say")
}

// ITU-T E.161 (02/2001), the usual 4 x 3 arrangement: 1 2 3 / 4 5 6 / 7 8 9 /
// * 0 #, as published tables of push-button tones show it.
func TestTelephonePad(t *testing.T) {
	p := grid(t, "1 2 3", "4 5 6", "7 8 9", "* 0 #")
	consistent(t, p)
	for i, want := range strings.Split("123456789*0#", "") {
		assert.Equal(t, want, p.crossing(p.Rows[i/3], p.Columns[i%3]))
	}
}

// ITU-T Q.23: each key is a pair of tones, one by row and one by column. The
// pairs named here are those of the published table.
func TestPushButtonTones(t *testing.T) {
	p := grid(t, "1 2 3 A", "4 5 6 B", "7 8 9 C", "* 0 # D")
	consistent(t, p)
	rows := map[int]int{697: 0, 770: 1, 852: 2, 941: 3}
	columns := map[int]int{1209: 0, 1336: 1, 1477: 2, 1633: 3}
	for _, c := range []struct {
		key       string
		low, high int // Hz
	}{
		{"5", 770, 1336}, {"1", 697, 1209}, {"#", 941, 1477}, {"A", 697, 1633}, {"B", 770, 1633}, {"C",
			852, 1633},
		{"D", 941, 1633}, {"*", 941, 1209}, {"0", 941, 1336},
	} {
		assert.Equal(t, c.key, p.crossing(p.Rows[rows[c.low]], p.Columns[columns[c.high]]), "%d + %d Hz",
			c.low, c.high)
	}
}

// Calculators have 7 8 9 on top (common practice, no standard seen): the
// telephone pad with its first and third row exchanged. The shape is that of
// IEC 60948:1988 by its abstract: three rows of three keys and a fourth row
// with at least one.
func TestCalculatorOrder(t *testing.T) {
	calculator, telephone := grid(t, "7 8 9", "4 5 6", "1 2 3", "-- 0 --"), grid(t, "1 2 3", "4 5 6",
		"7 8 9", "* 0 #")
	consistent(t, calculator)
	for r, other := range []int{2, 1, 0} {
		for c := range 3 {
			assert.Equal(t, telephone.crossing(telephone.Rows[other], telephone.Columns[c]),
				calculator.crossing(calculator.Rows[r], calculator.Columns[c]))
		}
	}
	assert.Empty(t, calculator.crossing(calculator.Rows[3], calculator.Columns[0]))
	assert.Equal(t, "0", calculator.crossing(calculator.Rows[3], calculator.Columns[1]))
}

func TestSizes(t *testing.T) {
	for _, size := range [][2]int{{1, 1}, {1, 32}, {32, 1}, {16, 32}} {
		var rows []string
		for r := range size[0] {
			var row []string
			for c := range size[1] {
				row = append(row, fmt.Sprintf("K%d.%d", r, c))
			}
			rows = append(rows, strings.Join(row, " "))
		}
		p := grid(t, rows...)
		consistent(t, p)
		assert.Len(t, p.Keys, size[0]*size[1])
	}
}

// A 32 x 32 matrix has 1024 crossings and may hold 512 keys.
func TestLargestMatrix(t *testing.T) {
	var rows []string
	for r := range 32 {
		var row []string
		for c := range 32 {
			label := empty
			if (r+c)%2 == 0 {
				label = fmt.Sprintf("%d.%d", r, c)
			}
			row = append(row, label)
		}
		rows = append(rows, strings.Join(row, " "))
	}
	p := grid(t, rows...)
	consistent(t, p)
	assert.Len(t, p.Keys, MaxKeys)
	assert.Len(t, p.Lines, MaxLines)
	assert.Equal(t, "31.31", p.crossing(p.Rows[31], p.Columns[31]))
}

func TestTooLarge(t *testing.T) {
	name := func(prefix string, n int) string {
		var all []string
		for i := range n {
			all = append(all, fmt.Sprintf("%s%d", prefix, i))
		}
		return strings.Join(all, " ")
	}
	many := make([]string, 17)
	for r := range many {
		many[r] = "    " + name(fmt.Sprintf("k%d.", r), 32)
	}
	_, err := Parse("f", []byte("product: P\ntail: "+name("r", 17)+" "+name("c",
		32)+"\nmatrix:\n  rows: "+name("r", 17)+
		"\n  columns: "+name("c", 32)+"\n  keys: |\n"+strings.Join(many, "\n")+"\n"))
	require.ErrorContains(t, err, "544 keys; a product has 512 at most")

	_, err = Parse("f", []byte("product: P\ntail: "+name("d", 65)+"\nlines: {direct: "+name("d", 65)+"}\n"))
	require.ErrorContains(t, err, "65 lines; a jig reaches 64 at most")
	require.ErrorContains(t, err, "65 tail pins; a jig reaches 64 at most")
}

func TestDirectPad(t *testing.T) {
	p := load(t, "vent-6.yaml")
	up, stop := p.Keys[p.Key("RIDGE+")], p.Keys[p.Key("STOP")]
	assert.Equal(t, []string{"K1", "COM"}, []string{p.Lines[up.A].Name, p.Lines[up.B].Name})
	assert.Equal(t, []string{"K6", "GND"}, []string{p.Lines[stop.A].Name, p.Lines[stop.B].Name})
	assert.Equal(t, Ground, p.Lines[stop.B].Kind)
	assert.Equal(t, "", p.Tail[7])
	assert.Equal(t, 9, p.Lines[p.Line("GND")].Pin)
	assert.Len(t, p.Lines[p.Line("COM")].Track, 5)
}

func TestKeyToGroundWithDiode(t *testing.T) {
	p := parse(t, "product: P", "tail: R1 C1 GND", "matrix: {rows: R1, columns: C1, keys: GO}",
		"lines: {ground: GND}",
		"keys:", "  RESET: {lines: GND R1, diode: R1 to GND, at: 5 0.5, size: 2 1.5, actuator number: 8}")
	k := p.Keys[p.Key("RESET")]
	assert.Equal(t, Key{Label: "RESET", A: 0, B: 2, Diode: AtoB, X: 5, Y: 0.5, W: 2, H: 1.5, Actuator: 7,
		Contact: 50,
		Limits: Limits{ClosedMax: 200, RestMin: 10e6, Make: 10 * time.Millisecond, Break: 10 * time.Millisecond,
			ForwardMin: 0.3, ForwardMax: 1, Guard: 1}}, k)
	assert.False(t, p.Test.Rectangles, "one diode outside the matrix makes no rectangle")
}

func TestSeveralKeysOnOneCrossing(t *testing.T) {
	p := parse(t, "product: P", "tail: R1 C1 C2", "matrix: {rows: R1, columns: C1 C2, keys: A&B &}",
		"keys: {D: {lines: C1 R1, shares: A}}")
	consistent(t, p)
	assert.Equal(t, []string{"A", "B", "&", "D"}, []string{p.Keys[0].Label, p.Keys[1].Label,
		p.Keys[2].Label, p.Keys[3].Label})
	for _, label := range []string{"A", "B", "D"} {
		k := p.Keys[p.Key(label)]
		assert.Equal(t, [2]int{0, 1}, [2]int{k.A, k.B}, label)
	}
	assert.InDelta(t, 0.5, p.Keys[1].X, 1e-12)
	assert.InDelta(t, 0.5, p.Keys[1].W, 1e-12)
}

// Labels that YAML would take for numbers, truth values or nothing stay what
// they look like.
func TestLabelsStayText(t *testing.T) {
	p := grid(t, "1.0 No 0x1F", "+/- ~ null", "1e3 .5 #")
	for _, label := range []string{"1.0", "No", "0x1F", "+/-", "~", "null", "1e3", ".5", "#"} {
		assert.GreaterOrEqual(t, p.Key(label), 0, label)
	}
	p = parse(t, "product: 100", "revision: 1.0", "tail: 1 2", "lines: {direct: 1, common: 2}",
		"keys: {No: 1 2}")
	assert.Equal(t, "1.0", p.Revision)
	assert.Equal(t, "100", p.Code)
	assert.Equal(t, 0, p.Key("No"))
	assert.Equal(t, -1, p.Key("false"))
	assert.Equal(t, -1, p.Line("3"))
}

func TestLimitsOfKeyOverGroupOverProduct(t *testing.T) {
	p := parse(t, "product: P", "tail: R1 C1 C2 C3", "matrix: {rows: R1, columns: C1 C2 C3, keys: A B C}",
		"limits: {contact resistance: 1 ohm to 150 ohm, bounce on closing: at most 4 ms, guard: none}",
		"groups: {g: {keys: A B, limits: {bounce on closing: at most 6 ms, insulation resistance: at least 50 Mohm}}}",
		"keys: {A: {limits: {bounce on closing: at most 8 ms, contact resistance: at most 90 ohm}}}")
	a, b, c := p.Keys[0].Limits, p.Keys[1].Limits, p.Keys[2].Limits
	ms := time.Millisecond
	assert.Equal(t, Limits{ClosedMax: 90, RestMin: 50e6, Make: 8 * ms, Break: 10 * ms}, a)
	assert.Equal(t, Limits{ClosedMin: 1, ClosedMax: 150, RestMin: 50e6, Make: 6 * ms, Break: 10 * ms}, b)
	assert.Equal(t, Limits{ClosedMin: 1, ClosedMax: 150, RestMin: 10e6, Make: 4 * ms, Break: 10 * ms}, c)
}

func TestTrackOrders(t *testing.T) {
	p := parse(t, "product: P", "tail: R1 R2 C1 C2", "matrix:", "  rows: R1 R2", "  columns: C1 C2",
		"  keys: |",
		"    A B", "    C D", "tracks: {R1: A B, rows: last to first, C2: last to first}")
	order := func(line string) (labels []string) {
		for _, k := range p.Lines[p.Line(line)].Track {
			labels = append(labels, p.Keys[k].Label)
		}
		return labels
	}
	assert.Equal(t, []string{"A", "B"}, order("R1"), "a line's own order wins over that of all rows")
	assert.Equal(t, []string{"D", "C"}, order("R2"))
	assert.Equal(t, []string{"A", "C"}, order("C1"))
	assert.Equal(t, []string{"D", "B"}, order("C2"))
}

// The largest closed resistances that still read low are the published rule
// R = Rpu VIL / (VDD - VIL) with VIL = 0.3 VDD, computed for usual pull-ups.
func TestScannerReach(t *testing.T) {
	for pullUp, want := range map[quantity.Ohm]float64{4.7e3: 2014, 10e3: 4286, 22e3: 9429, 47e3: 20143,
		100e3: 42857} {
		s := Scanner{Supply: 3.3, PullUp: pullUp, Low: 0.99, High: 2.31}
		assert.InDelta(t, want, float64(s.MaxClosed(Key{}, circuit.Diode{})), 0.5)
	}
	s := Scanner{Supply: 5, PullUp: 10e3, Low: 1.5, High: 3.5, Drive: 100}
	without := s.MaxClosed(Key{}, circuit.SmallSignal)
	with := s.MaxClosed(Key{Diode: AtoB}, circuit.SmallSignal)
	assert.InDelta(t, 4285.7-100, float64(without), 0.1)
	// 350 uA through the diode drop 0.537 V, which 350 uA make of 1.534 kohm.
	assert.InDelta(t, 1534, float64(without-with), 5)
	assert.InDelta(t, 23333, float64(s.MinRest()), 1)
}

func TestNominalDiodeAtOperatingPoint(t *testing.T) {
	d := load(t, "bay-16.yaml").Nominal.Diode
	n := circuit.NewNetwork()
	anode := n.Node()
	n.Source(anode, 1.6, 1000) // 1 mA when the diode drops 0.6 V
	n.Diode(anode, circuit.Earth, d)
	s, err := n.Solve()
	require.NoError(t, err)
	assert.InDelta(t, 0.6, float64(s.Volt(anode)), 1e-6)
}

func TestCircuitHasTheLoopResistance(t *testing.T) {
	p := load(t, "gcc-20.yaml")
	c := p.Circuit()
	require.Len(t, c.Lines, len(p.Lines))
	require.Len(t, c.Keys, len(p.Keys))
	k := p.Key("HEAT")
	assert.Equal(t, c.Keys[k].Label, "HEAT")
	sum := p.Keys[k].Contact
	for _, l := range []int{c.Keys[k].A, c.Keys[k].B} {
		sum += c.Lines[l].Tail
		for _, s := range c.Lines[l].Track {
			sum += s.R
			if s.Key == k {
				break
			}
		}
	}
	assert.InDelta(t, float64(sum), float64(p.Loop(k)), 1e-9)
	assert.InDelta(t, 60+2*4+(4+4)*1.5, float64(sum), 1e-9)
	assert.NotNil(t, load(t, "bay-16.yaml").Circuit().Keys[0].Diode)
}

func TestLoadSaysWhichFile(t *testing.T) {
	_, err := Load("no-such.yaml")
	require.ErrorContains(t, err, "no-such.yaml")
	var m Mistakes
	assert.NotErrorAs(t, err, &m, "a file that cannot be read is not a mistake in it")
}
