package devicetree

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/sequence/product"
)

// Whatever the source, the answer is mistakes with places in it, or keypads
// whose draft loads and has every key that was read.
func FuzzParse(f *testing.F) {
	for _, pattern := range []string{"*.dts", "bad/*.dts"} {
		files, err := filepath.Glob(sources + pattern)
		require.NoError(f, err)
		for _, file := range files {
			text, err := os.ReadFile(file)
			require.NoError(f, err)
			f.Add(string(text))
		}
	}
	f.Fuzz(func(t *testing.T, text string) {
		tree, err := Parse("fuzz.dts", []byte(text))
		if err != nil {
			placed(t, text, err)
			return
		}
		for _, n := range tree.Keypads() {
			pad, err := tree.Read(n)
			if err != nil {
				placed(t, text, err)
				continue
			}
			assert.Len(t, load(t, pad).Keys, len(pad.Keys))
		}
	})
}

func placed(t *testing.T, text string, err error) {
	t.Helper()
	list, ok := errors.AsType[product.Mistakes](err)
	require.True(t, ok, "%v", err)
	require.NotEmpty(t, list)
	lines := strings.Count(text, "\n") + 1
	for _, m := range list {
		assert.True(t, m.Line >= 1 && m.Line <= lines && m.Column >= 1, "%v", m)
		assert.NotContains(t, m.Message, "\n")
	}
}
