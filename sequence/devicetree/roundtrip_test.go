package devicetree

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"padjig/sequence/product"
)

// pads draws a matrix by its crossings: pairs of row and column, every row and
// column in use, a column equal to the number of columns for a key to ground.
func pads(t *rapid.T) (rows, columns int, crossings [][2]int) {
	rows = rapid.IntRange(1, product.MaxRows).Draw(t, "rows")
	columns = rapid.IntRange(1, product.MaxColumns-1).Draw(t, "columns")
	for r := range rows {
		crossings = append(crossings, [2]int{r, r % columns})
	}
	for c := range columns {
		crossings = append(crossings, [2]int{c % rows, c})
	}
	more := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) [2]int {
		return [2]int{rapid.IntRange(0, rows-1).Draw(t, "row"), rapid.IntRange(0, columns).Draw(t, "column")}
	}), 0, 60).Draw(t, "more")
	crossings = append(crossings, more...)
	slices.SortFunc(crossings, func(a, b [2]int) int { return (a[0]-b[0])*1000 + a[1] - b[1] })
	return rows, columns, slices.Compact(crossings)
}

// written gives the entry of a keymap in one of the ways people write it.
func written(t *rapid.T, row, column int, code string) string {
	return fmt.Sprintf(rapid.SampledFrom([]string{
		"MATRIX_KEY(%d, %d, %s)", "MATRIX_KEY(%#x,%#o,%s)", "((%d << 24) | (%d << 16) | %s)",
		"MATRIX_KEY /* row */ (ONE - 1 + %d, %d, \n%s)", "(%d * 0x1000000U + (%d << (2 * 8)) + %s)",
	}).Draw(t, "form"), row, column, code)
}

// A keymap written out of a grid comes back with the same crossings, and the
// product made of it has them under its own names.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows, columns, crossings := pads(t)
		var cells, want []string
		for _, x := range crossings {
			code := rapid.SampledFrom(keyNames[1:80]).Draw(t, "code")
			cells = append(cells, written(t, x[0], x[1], "KEY_"+code))
			want = append(want, joined(x, columns))
		}
		cells = rapid.Permutation(cells).Draw(t, "order")
		text := fmt.Sprintf("#define ONE 1\n/ { pad { keypad,num-rows = <%d>;\nkeypad,num-columns = <%d>;\n"+
			"linux,keymap = <%s>; }; };", rows, columns, strings.Join(cells, "\n"))
		pad, err := Import("pad.dts", []byte(text), "")
		require.NoError(t, err, text)
		var got []string
		p := load(t, pad)
		for _, k := range p.Keys {
			got = append(got, p.Lines[k.A].Name+" "+p.Lines[k.B].Name)
		}
		assert.ElementsMatch(t, want, got)
	})
}

func joined(crossing [2]int, columns int) string {
	if crossing[1] == columns {
		return fmt.Sprintf("R%d GND", crossing[0]+1)
	}
	return fmt.Sprintf("R%d C%d", crossing[0]+1, crossing[1]+1)
}
