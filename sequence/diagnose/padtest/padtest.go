// Package padtest has keypads that tests of a diagnosis work on.
package padtest

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"padjig/sequence/product"
)

// Matrix is a product with a key at every crossing.
func Matrix(t testing.TB, rows, columns int) *product.Product {
	t.Helper()
	var b strings.Builder
	names := func(letter string, n int) string {
		var all []string
		for i := range n {
			all = append(all, fmt.Sprintf("%s%d", letter, i+1))
		}
		return strings.Join(all, " ")
	}
	r, c := names("R", rows), names("C", columns)
	fmt.Fprintf(&b, "product: M-%dX%d\ntitle: matrix\ntail: %s %s\nmatrix:\n  rows: %[3]s\n  columns: %s\n  keys: |\n", rows, columns, r, c)
	for i := range rows {
		b.WriteString("   ")
		for j := range columns {
			fmt.Fprintf(&b, " %d.%d", i+1, j+1)
		}
		b.WriteString("\n")
	}
	b.WriteString("limits: {contact resistance: at most 200 ohm}\nnominal: {contact: 60 ohm, track: 1.5 ohm, tail: 4 ohm}\n")
	p, err := product.Parse("matrix.yaml", []byte(b.String()))
	require.NoError(t, err)
	return p
}

// Telephone is a 12-key 4 x 3 pad with its rows on pins 1 to 4 and its columns on 5 to 7.
func Telephone(t testing.TB) *product.Product {
	t.Helper()
	p, err := product.Parse("telephone.yaml", []byte(`product: PHONE-12
title: greenhouse door panel, 12 keys
tail: R1 R2 R3 R4 C1 C2 C3
matrix:
  rows: R1 R2 R3 R4
  columns: C1 C2 C3
  keys: |
    1 2 3
    4 5 6
    7 8 9
    * 0 #
limits: {contact resistance: at most 200 ohm}
nominal: {contact: 60 ohm, track: 1.5 ohm, tail: 4 ohm}
`))
	require.NoError(t, err)
	return p
}
