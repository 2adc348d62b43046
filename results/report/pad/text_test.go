package pad

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"padjig/sequence/product"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestText(t *testing.T) {
	for name, c := range map[string]struct {
		file []string
		mark func(*Pad)
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
			func(p *Pad) { p.Keys[1].State, p.Keys[1].Defect = Failed, 104 }, `
┌──────┬──────┐
│  A   │  B   │
│      │ ✗104 │
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
			file, err := product.Parse("pad.yaml", []byte(strings.Join(append([]string{"product: P"}, c.file...), "\n")))
			require.NoError(t, err)
			p := Of(file.Keys, Plain)
			if c.mark != nil {
				c.mark(&p)
			}
			assert.Equal(t, strings.TrimPrefix(c.want, "\n"), p.Text())
		})
	}
	assert.Empty(t, Pad{}.Text())
}

// The worked example of the documentation is drawn as it is shown there.
func TestDocumentedExample(t *testing.T) {
	text, err := os.ReadFile("../../../docs/product-file.md")
	require.NoError(t, err)
	blocks := regexp.MustCompile("(?s)```(yaml)?\n(.*?)```").FindAllStringSubmatch(string(text), -1)
	require.Greater(t, len(blocks), 2)
	p, err := product.Parse("docs", []byte(blocks[1][2]))
	require.NoError(t, err)
	assert.Equal(t, strings.TrimSpace(blocks[2][2]), strings.TrimSpace(Of(p.Keys, Plain).Text()))
}

// Every label of the shipped products is drawn whole, once, within a page.
func TestTextOfShipped(t *testing.T) {
	for _, name := range []string{"gcc-20.yaml", "vent-6.yaml", "bay-16.yaml", "console-104.yaml"} {
		p := shipped(t, name)
		text := p.Text()
		inBoxes := strings.FieldsFunc(text, func(r rune) bool {
			return strings.ContainsRune("│┌┐└┘├┤┬┴┼─ \n", r)
		})
		assert.ElementsMatch(t, labelsOf(p), inBoxes, name)
		for line := range strings.Lines(text) {
			assert.LessOrEqual(t, columnsOf(line), page+1, name)
		}
	}
}

// shipped is the pad of a product that the tests share.
func shipped(t *testing.T, name string) Pad {
	t.Helper()
	file := "../../../testdata/products/" + name
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	p, err := product.Parse(file, text)
	require.NoError(t, err)
	return Of(p.Keys, Plain)
}

func labelsOf(p Pad) (all []string) {
	for _, k := range p.Keys {
		all = append(all, k.Label)
	}
	return all
}
