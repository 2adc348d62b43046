package devicetree

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/sequence/product"
)

// repeated writes pieces up to the largest size.
func repeated(piece func(i int) string) string {
	var b strings.Builder
	b.WriteString("/dts-v1/;\n/ {\n")
	for i := 0; b.Len() < MaxSize-100; i++ {
		b.WriteString(piece(i))
	}
	return b.String() + "};\n"
}

// Sources that would cost far more than their bytes are refused with a place and
// words before they do.
func TestBombs(t *testing.T) {
	for name, text := range map[string]string{
		"properties": repeated(func(i int) string { return fmt.Sprintf("p%d;", i) }),
		"nodes":      repeated(func(i int) string { return fmt.Sprintf("n%d{};", i) }),
		"nested":     "/ {" + strings.Repeat("a{", 200_000),
		"brackets":   "/ { a = <" + strings.Repeat("(", 500_000),
		"references": "/ { };" + strings.Repeat("&x{};", MaxSize/5-10),
		"unknown": func() (s string) {
			return strings.TrimPrefix(repeated(func(i int) string { return fmt.Sprintf("&u%d{};", i) }), "/dts-v1/;\n/ {\n")
		}(),
		"garbage": strings.Repeat("?", MaxSize-1),
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Parse("bomb.dts", []byte(text))
			var list product.Mistakes
			require.ErrorAs(t, err, &list)
			assert.Positive(t, list[0].Line)
			t.Log(len(list), list[0])
		})
	}
	_, err := Parse("doubling.dts", []byte("#define A0 (1+1)\n"+doubling(40)+"/ { k { linux,keymap = <A39>; }; };"))
	if err == nil {
		_, err = Import("doubling.dts", []byte("#define A0 (1+1)\n"+doubling(40)+"/ { k { linux,keymap = <A39>; }; };"), "")
	}
	assert.Error(t, err)
	t.Log(err)
}

func doubling(n int) string {
	text := ""
	for i := 1; i < n; i++ {
		text += fmt.Sprintf("#define A%d (A%d+A%d)\n", i, i-1, i-1)
	}
	return text
}

func TestSourceTooLarge(t *testing.T) {
	text := "/dts-v1/;\n/ { };\n" + strings.Repeat(" ", MaxSize)
	_, err := Parse("large.dts", []byte(text))
	require.ErrorContains(t, err, "large.dts:1:1: this is larger than 1024 KiB")
	_, err = Parse("most.dts", []byte(text[:MaxSize]))
	require.NoError(t, err)
}
