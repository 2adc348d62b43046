package product

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestDraw(t *testing.T) {
	for name, c := range map[string]struct {
		file []string
		mark func(int) string
		want string
	}{
		"matrix": {
			[]string{"tail: R1 R2 C1 C2", "matrix:", "  rows: R1 R2", "  columns: C1 C2", "  keys: |",
				"    1 2", "    VENT *"}, nil, `
┌──────┬──────┐
│  1   │  2   │
├──────┼──────┤
│ VENT │  *   │
└──────┴──────┘
`},
		"marks": {
			[]string{"tail: R1 C1 C2", "matrix: {rows: R1, columns: C1 C2, keys: A B}"},
			func(k int) string { return []string{"", "FAIL"}[k] }, `
┌──────┬──────┐
│  A   │  B   │
│      │ FAIL │
└──────┴──────┘
`},
		"gaps and sizes": {
			[]string{"tail: R1 R2 C1 C2 C3", "matrix:", "  rows: R1 R2", "  columns: C1 C2 C3",
				"  keys: |", "    A -- C",
				"    D E F", "keys: {F: {size: 1 2, at: 4 0}, C: {width: 1.5}}"}, nil, `
┌───┐   ┌─────┐ ┌───┐
│ A │   │  C  │ │   │
├───┼───┼─────┘ │ F │
│ D │ E │       │   │
└───┴───┘       └───┘
`},
		"staggered": {
			[]string{"tail: K1 K2 K3 COM", "lines: {direct: K1 K2 K3, common: COM}",
				"keys: {A: {lines: K1 COM, at: 0.5 0}, B: {lines: K2 COM, at: 0 1}, C: {lines: K3 COM, " +
					"at: 1 1}}"}, nil, `
  ┌───┐
  │ A │
┌─┴─┬─┴─┐
│ B │ C │
└───┴───┘
`},
		"one crossing, two keys": {
			[]string{"tail: R1 C1 C2", "matrix: {rows: R1, columns: C1 C2, keys: A&B C}"}, nil, `
┌───┬───┬───────┐
│ A │ B │   C   │
└───┴───┴───────┘
`},
		"wide characters": {
			[]string{"tail: K1 K2 COM", "lines: {direct: K1 K2, common: COM}",
				"keys: {温室: K1 COM, e\u0301: K2 COM}"}, nil, `
┌──────┬──────┐
│ 温室 │  ` + "e\u0301" + `   │
└──────┴──────┘
`},
		"label too long": {
			[]string{"tail: K1 COM", "lines: {direct: K1, common: COM}",
				"keys: {CIRCULATION-FAN: K1 COM}"}, nil, `
┌───────────┐
│CIRCULATIO…│
└───────────┘
`},
	} {
		t.Run(name, func(t *testing.T) {
			p := parse(t, append([]string{"product: P"}, c.file...)...)
			assert.Equal(t, strings.TrimPrefix(c.want, "\n"), p.Draw(c.mark))
		})
	}
	assert.Empty(t, new(Product).Draw(nil))
}

// Every label of the shipped products is drawn whole, once, within a page.
func TestDrawShipped(t *testing.T) {
	for _, name := range []string{"gcc-20.yaml", "vent-6.yaml", "bay-16.yaml", "console-104.yaml"} {
		p := load(t, name)
		text := p.Draw(nil)
		inBoxes := strings.FieldsFunc(text, func(r rune) bool {
			return strings.ContainsRune("│┌┐└┘├┤┬┴┼─ \n", r)
		})
		assert.ElementsMatch(t, labelsOf(p), inBoxes, name)
		for line := range strings.Lines(text) {
			assert.LessOrEqual(t, columnsOf(line), page+1, name)
		}
	}
}

func labelsOf(p *Product) (all []string) {
	for _, k := range p.Keys {
		all = append(all, k.Label)
	}
	return all
}
