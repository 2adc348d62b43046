package product

import (
	"os"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The worked example of the documentation is a product.
func TestDocumentedExample(t *testing.T) {
	text, err := os.ReadFile("../../docs/product-file.md")
	require.NoError(t, err)
	blocks := regexp.MustCompile("(?s)```(yaml)?\n(.*?)```").FindAllStringSubmatch(string(text), -1)
	require.Greater(t, len(blocks), 4)
	p := parse(t, blocks[1][2])
	assert.NotEmpty(t, p.Keys)
	p = parse(t, blocks[1][2]+blocks[3][2])
	assert.EqualValues(t, 50, p.Keys[p.Key("STOP")].Limits.ClosedMax)
	assert.Equal(t, 2.0, p.Keys[p.Key("STOP")].Y)
	parse(t, "product: P", "tail: R1 R2 C1 C2 C3", blocks[4][2])
}
