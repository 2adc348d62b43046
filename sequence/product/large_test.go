package product

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// bombs are small or large texts that would cost a careless reader far more than
// their bytes.
func bombs() map[string]string {
	aliases := "a0: &a0 [x, x, x, x, x, x, x, x, x]\n"
	for i := 1; i < 20; i++ {
		aliases += fmt.Sprintf("a%d: &a%d [%s*a%d]\n", i, i, strings.Repeat(fmt.Sprintf("*a%d, ", i-1), 8), i-1)
	}
	block := ""
	for i := range 400 {
		block += strings.Repeat(" ", i) + "a:\n"
	}
	return map[string]string{
		"aliases of aliases": aliases,
		"an alias of itself": "product: &a [*a]\n",
		"merges":             "a: &a {b: c}\nd: {<<: [*a, *a, *a]}\n",
		"lists in lists":     "product: " + strings.Repeat("[", MaxSize/2),
		"closed lists":       "product: " + strings.Repeat("[", 5000) + strings.Repeat("]", 5000),
		"fields in fields":   "product: " + strings.Repeat("{a: ", 9000),
		"blocks in blocks":   block,
		"dashes":             strings.Repeat("- ", 100_000),
		"question marks":     strings.Repeat("? ", 100_000),
		"tags":               strings.Repeat("!", MaxSize-1),
	}
}

// No text, however it is nested, takes the program down or long; each is told in
// words, with a place.
func TestBombs(t *testing.T) {
	for name, text := range bombs() {
		t.Run(name, func(t *testing.T) {
			_, err := Parse("bomb.yaml", []byte(text))
			var list Mistakes
			require.ErrorAs(t, err, &list)
			require.Less(t, len(list), 1000, "mistakes")
			assert.Positive(t, list[0].Line)
			assert.Less(t, len(err.Error()), 100_000)
			t.Log(list[0])
		})
	}
}

// A file larger than any keypad needs is not parsed, nor read whole: neither from
// the disk nor from a page.
func TestFileTooLarge(t *testing.T) {
	good, err := os.ReadFile("../../testdata/products/gcc-20.yaml")
	require.NoError(t, err)
	most := append(good, []byte("\n#"+strings.Repeat("x", MaxSize-len(good)-2))...)
	_, err = Parse("most.yaml", most)
	require.NoError(t, err)
	_, err = Parse("large.yaml", append(most, 'x'))
	require.ErrorContains(t, err, "large.yaml:1:1: this is larger than 256 KiB")

	path := filepath.Join(t.TempDir(), "large.yaml")
	f, err := os.Create(path)
	require.NoError(t, err)
	require.NoError(t, f.Truncate(1<<40)) // a sparse file: as much as nobody has memory for
	require.NoError(t, f.Close())
	_, err = Load(path)
	require.ErrorContains(t, err, "larger than 256 KiB")
	_, err = Load("/dev/zero")
	if err == nil || !os.IsNotExist(err) {
		require.ErrorContains(t, err, "larger than 256 KiB")
	}
}
