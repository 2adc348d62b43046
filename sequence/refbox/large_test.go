package refbox

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A box file that is large, or nested beyond sense, is refused with a place.
func TestBombs(t *testing.T) {
	aliases := "a0: &a0 [x, x, x, x, x, x, x, x, x]\n"
	for i := 1; i < 20; i++ {
		aliases += fmt.Sprintf("a%d: &a%d [%s*a%d]\n", i, i, strings.Repeat(fmt.Sprintf("*a%d, ", i-1), 8), i-1)
	}
	for name, text := range map[string]string{
		"large":      "box: RB-1\n#" + strings.Repeat("x", MaxSize),
		"lists":      "box: " + strings.Repeat("[", MaxSize-10),
		"fields":     "resistors: " + strings.Repeat("{a: ", 9000),
		"aliases":    aliases,
		"itself":     "resistors: &a {A: *a}\n",
		"dashes":     strings.Repeat("- ", MaxSize/2-1),
		"named many": "resistors:\n" + strings.Repeat("  A: {}\n", 7000),
	} {
		_, err := Parse("bomb.yaml", []byte(text))
		var list Mistakes
		require.ErrorAs(t, err, &list, name)
		assert.Positive(t, list[0].Line, name)
	}
	path := filepath.Join(t.TempDir(), "large.yaml")
	f, err := os.Create(path)
	require.NoError(t, err)
	require.NoError(t, f.Truncate(1<<40)) // sparse
	require.NoError(t, f.Close())
	_, err = Load(path)
	require.ErrorContains(t, err, "larger than 64 KiB")
}
