package mistakes

import (
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/sequence/fields"
	"padjig/sequence/product"
)

// sentences are the English ones, read from where they stand.
func sentences(t *testing.T) map[fields.Code]string {
	file, err := parser.ParseFile(token.NewFileSet(), "../sentence.go", nil, 0)
	require.NoError(t, err)
	all := map[fields.Code]string{}
	ast.Inspect(file, func(n ast.Node) bool {
		if pair, is := n.(*ast.KeyValueExpr); is {
			all[fields.Code(text(t, pair.Key))] = text(t, pair.Value)
		}
		return true
	})
	require.Greater(t, len(all), 90)
	return all
}

// text is a string of the source, also one in pieces.
func text(t *testing.T, of ast.Expr) string {
	switch e := of.(type) {
	case *ast.BinaryExpr:
		return text(t, e.X) + text(t, e.Y)
	case *ast.BasicLit:
		s, err := strconv.Unquote(e.Value)
		require.NoError(t, err)
		return s
	}
	t.Fatalf("%T is no text", of)
	return ""
}

// Each mistake can be said in German with the same arguments.
func TestMistakesInGerman(t *testing.T) {
	verbs := regexp.MustCompile(`%(?:\[(\d)\])?[a-zA-Z]`)
	used := func(sentence string) (out []string) {
		for i, m := range verbs.FindAllStringSubmatch(strings.ReplaceAll(sentence, "%%", ""), -1) {
			place := m[1]
			if place == "" {
				place = strconv.Itoa(i + 1)
			}
			out = append(out, place+m[0][len(m[0])-1:])
		}
		slices.Sort(out)
		return slices.Compact(out)
	}
	english := sentences(t)
	for code, sentence := range english {
		assert.Equal(t, used(sentence), used(german[code]), "%s", code)
	}
	assert.Len(t, german, len(english))
	_, err := product.Parse("a.yaml", []byte("product: FAN-4\ntail: R1 R2 C1 C9\nmatrix: {rows: R1 R2, columns: C1 C2, keys: {a: 1}}\nlimts: 1"))
	list, is := errors.AsType[product.Mistakes](err)
	require.True(t, is)
	for _, m := range list {
		said := In("de", m)
		assert.NotEqual(t, m.Message, said)
		assert.NotContains(t, said, "%!")
		assert.Equal(t, m.Message, In("en", m))
	}
	_, err = product.Parse("a.yaml", []byte("product: \"FAN-4\nlines: [a"))
	list, is = errors.AsType[product.Mistakes](err)
	require.True(t, is)
	assert.Contains(t, In("de", list[0]), "schließen")
}
