package margin

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/quantity"
	"padjig/sequence/product"
)

func parse(t *testing.T, text string) *product.Product {
	t.Helper()
	p, err := product.Parse("test.yaml", []byte(text))
	require.NoError(t, err, text)
	return p
}

// grid is a product of rows x columns with keys labelled from 1, and more fields.
func grid(rows, columns int, more string) string {
	r, c := names("R", rows), names("C", columns)
	var keys strings.Builder
	for i := range rows {
		keys.WriteString("\n   ")
		for j := range columns {
			fmt.Fprintf(&keys, " %d", i*columns+j+1)
		}
	}
	return fmt.Sprintf("product: GRID\ntail: %s %s\nmatrix:\n  rows: %s\n  columns: %s\n  keys: |%s\n%s\n",
		r, c, r, c, keys.String(), more)
}

func names(letter string, n int) string {
	all := make([]string, n)
	for i := range all {
		all[i] = fmt.Sprint(letter, i)
	}
	return strings.Join(all, " ")
}

const (
	floating = "scanner: {supply: 3.3 V, pull-up: 10 kohm}"
	high     = "scanner: {supply: 3.3 V, pull-up: 10 kohm, idle columns: driven}"
)

func labelled(p *product.Product, keys []int) string {
	all := make([]string, len(keys))
	for i, k := range keys {
		all[i] = p.Keys[k].Label
	}
	return strings.Join(all, " ")
}

func look(t *testing.T, p *product.Product, labels ...string) (ghosts, lost string) {
	t.Helper()
	b := newBoard(p)
	e := explorer{wiring: b.wiring, crossings: b.crossings()}
	e.rows = e.byRow()
	held := make([]int, len(labels))
	for i, label := range labels {
		held[i] = p.Key(label)
		require.GreaterOrEqual(t, held[i], 0, label)
	}
	found := e.look(held)
	return labelled(p, found.Ghosts), labelled(p, found.Lost)
}

// The example of the TCA8418 data sheet (SCPS215; SCPS222C, section 9.1.1): on a pad of 4 rows
// and 3 columns numbered 1, 2, 3, then 11, 12, 13 and so on, keys 1, 2 and 11 held make 12 read
// as well; 1, 11 and 21, in one column, are safe.
func TestPublishedGhost(t *testing.T) {
	const pad = `product: PAD
tail: R0 R1 R2 R3 C0 C1 C2
matrix:
  rows: R0 R1 R2 R3
  columns: C0 C1 C2
  keys: |
    1 2 3
    11 12 13
    21 22 23
    31 32 33
`
	p := parse(t, pad+floating)
	ghosts, lost := look(t, p, "1", "2", "11")
	assert.Equal(t, "12", ghosts)
	assert.Empty(t, lost)
	ghosts, _ = look(t, p, "1", "11", "21")
	assert.Empty(t, ghosts)
	ghosts, lost = look(t, p, "1", "2", "11", "12")
	assert.Empty(t, ghosts+lost, "the fourth, really held, changes nothing: it was masked")

	p = parse(t, strings.Replace(pad, "matrix:", "matrix:\n  diodes: row to column", 1)+floating)
	ghosts, _ = look(t, p, "1", "2", "11")
	assert.Empty(t, ghosts, "with diodes")
}

// (R2,C0), (R1,C0), (R2,C3) held: a fourth event appears for the missing corner, (R1,C3). A
// user's case in a manufacturer's forum (TI E2E, thread 194786).
func TestReportedGhost(t *testing.T) {
	p := parse(t, grid(4, 4, floating))
	ghosts, _ := look(t, p, "9", "5", "12")
	assert.Equal(t, "8", ghosts)
}

// Each rectangle of four keys has four ways to hold three of them: 4 C(m,2) C(n,2).
func TestGhostsOfAFullMatrix(t *testing.T) {
	for _, size := range [][2]int{{1, 5}, {2, 2}, {4, 3}, {5, 4}, {8, 6}} {
		m, n := size[0], size[1]
		r, err := Of(parse(t, grid(m, n, floating)))
		require.NoError(t, err)
		s := r.Presses.Sizes
		assert.Equal(t, m*(m-1)*n*(n-1), s[3].Ghost, size)
		assert.Zero(t, s[1].Ghost+s[1].Lost+s[2].Ghost+s[2].Lost+s[3].Lost, size)
		assert.Len(t, s[3].Examples, min(s[3].Ghost, mostExamples))
	}
}

func TestNoGhostsBehindDiodes(t *testing.T) {
	for _, scanner := range []string{floating, high} {
		text := strings.Replace(grid(5, 5, scanner), "matrix:", "matrix:\n  diodes: row to column", 1)
		r, err := Of(parse(t, text))
		require.NoError(t, err)
		for _, m := range r.Presses.Sizes {
			assert.Zero(t, m.Ghost+m.Lost)
		}
	}
}

// On a pad with holes: three corners with a key at the fourth, counted rectangle by rectangle.
func TestGhostsOfTheConsole(t *testing.T) {
	p, err := product.Load("../../testdata/products/console-104.yaml")
	require.NoError(t, err)
	at := map[[2]int]bool{}
	for _, k := range p.Keys {
		at[[2]int{k.A, k.B}] = true
	}
	full := 0
	for i, a := range p.Rows {
		for _, b := range p.Rows[:i] {
			for j, c := range p.Columns {
				for _, d := range p.Columns[:j] {
					if at[[2]int{a, c}] && at[[2]int{a, d}] && at[[2]int{b, c}] && at[[2]int{b, d}] {
						full++
					}
				}
			}
		}
	}
	r, err := Of(p)
	require.NoError(t, err)
	assert.Equal(t, 4*full, r.Presses.Sizes[3].Ghost)
}

// With idle columns driven high and no diodes, any two keys of a row pull it both ways: m C(n,2)
// pairs. Nothing ghosts, since no path leads through a driven column.
func TestIdleColumnsDrivenHighMask(t *testing.T) {
	p := parse(t, grid(4, 3, high))
	r, err := Of(p)
	require.NoError(t, err)
	s := r.Presses.Sizes
	assert.Equal(t, 4*3, s[2].Lost)
	assert.Zero(t, s[2].Ghost+s[3].Ghost+s[3].Lost)
	assert.Equal(t, "1 2", labelled(p, s[2].Examples[0].Lost))
	_, lost := look(t, p, "1", "4")
	assert.Empty(t, lost, "two keys of a column")
}

// A key from a row to ground: its row is low whatever column is driven, so every key of the row
// reads pressed (Linux twl4030 and the ADP5586 data sheet count it as a key of its own).
func TestKeyToGround(t *testing.T) {
	text := strings.Replace(grid(2, 3, "lines: {ground: GND}\nkeys: {RESET: {lines: R1 GND, at: 4 0}}\n"+floating),
		"C2\nmatrix", "C2 GND\nmatrix", 1)
	p := parse(t, text)
	ghosts, lost := look(t, p, "RESET")
	assert.Equal(t, "4 5 6", ghosts)
	assert.Empty(t, lost)
	ghosts, _ = look(t, p, "4", "5")
	assert.Empty(t, ghosts, "RESET is read with no column low")
	r, err := Of(p)
	require.NoError(t, err)
	assert.Equal(t, 1, r.Presses.Sizes[1].Ghost)
	assert.Zero(t, r.Presses.Sizes[2].Ghost, "pairs that hold RESET count already")
	key := r.Keys[p.Key("RESET")]
	assert.InEpsilon(t, float64(r.Keys[p.Key("1")].Contact+50), float64(key.Contact), 0.01, "no driver in its way")
}

func TestKeysOnOneCrossing(t *testing.T) {
	r, err := Of(parse(t, strings.Replace(grid(2, 2, floating), " 1 2", " 1&BIS 2", 1)))
	require.NoError(t, err)
	assert.Equal(t, 1, r.Presses.Shared)
	assert.Zero(t, r.Presses.Sizes[1].Ghost)
	assert.Equal(t, 4, r.Presses.Sizes[3].Ghost)
}

// What is said to be read agrees with the voltages of the solved network, for any keys held,
// diodes either way, idle columns floating or driven.
func TestSeenAgreesWithTheNetwork(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 1))
	counted := map[reading]int{}
	for range 150 {
		p := randomPad(t, random)
		b := newBoard(p)
		held := random.Perm(len(p.Keys))[:1+random.IntN(min(4, len(p.Keys)))]
		for k, w := range b.ways {
			if w.unread != "" {
				continue
			}
			m, err := b.solve(scan{w.driven, p.Scanner.IdleDriven, held})
			require.NoError(t, err)
			counted[b.seen(k, held)]++
			checkLevel(t, b, k, held, m.line(w.read))
		}
	}
	t.Logf("%d released, %d pressed, %d between", counted[released], counted[pressed], counted[between])
	for _, n := range counted {
		assert.Greater(t, n, 30)
	}
}

// checkLevel holds a level against what is said of it. Several diodes in a row may keep a level
// from being low, but no lower than undecided; where two drivers fight, the row between them may
// be anywhere, and the one that is to be high may be dragged down.
func checkLevel(t *testing.T, b *board, k int, held []int, v quantity.Volt) {
	t.Helper()
	s := b.scanner
	switch b.seen(k, held) {
	case pressed:
		diodes := slices.ContainsFunc(held, func(k int) bool { return b.Keys[k].Diode != product.NoDiode })
		assert.True(t, v <= s.Low || diodes && v < s.High, "key %d, held %v: row at %v", k, held, v)
	case released:
		if fought(b, held) {
			return
		}
		assert.GreaterOrEqual(t, float64(v), float64(s.High), "key %d, held %v", k, held)
	case between:
		assert.Greater(t, float64(v), 0.01*float64(s.Supply), "key %d, held %v", k, held)
	}
}

func fought(b *board, held []int) bool {
	return slices.ContainsFunc(held, func(k int) bool { return b.seen(k, held) == between })
}

// randomPad is a pad of up to 5 x 5 with or without diodes at some keys, whose contacts are small
// against the pull-up.
func randomPad(t *testing.T, random *rand.Rand) *product.Product {
	t.Helper()
	rows, columns := 1+random.IntN(5), 1+random.IntN(5)
	var keys strings.Builder
	keys.WriteString("keys:\n")
	diodes := 0
	for k := range rows * columns {
		fmt.Fprintf(&keys, "  %d: {contact: %.3g ohm", k+1, 10+100*random.Float64())
		if ways := []string{"none", "R%d to C%d", "R%d to C%d", "C%[2]d to R%[1]d"}; random.IntN(2) > 0 {
			way := ways[random.IntN(len(ways))]
			if strings.Contains(way, "%") {
				fmt.Fprintf(&keys, ", diode: "+way, k/columns, k%columns)
				diodes++
			}
		}
		keys.WriteString("}\n")
	}
	idle := []string{"float", "driven"}[random.IntN(2)]
	supply := []string{"3.3 V", "5 V"}[random.IntN(2)]
	return parse(t, grid(rows, columns, keys.String()+fmt.Sprintf(
		"nominal: {track: %.3g ohm, tail: %.3g ohm}\nscanner: {supply: %s, pull-up: %.4g kohm, idle columns: %s}",
		2*random.Float64(), 10*random.Float64(), supply, 22+80*random.Float64(), idle)))
}
