package devicetree

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The outside check: the C preprocessor and the reference devicetree compiler
// make a blob of the same source, and its cells are held against ours.

// compiled gives the 32-bit cells of one property of a source, as the
// preprocessor and the compiler see them.
func compiled(t *testing.T, source []byte, node, property string) []uint32 {
	t.Helper()
	dir := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
		return path
	}
	// What the kernel's headers of these names say of the matrix, in our words.
	write("dt-bindings/input/input.h", "#include <linux/input-event-codes.h>\n"+
		"#define MATRIX_KEY(r, c, k) (((r) << 24) + ((c) << 16) + (k))\n")
	write("dt-bindings/gpio/gpio.h", "#define GPIO_ACTIVE_LOW 1\n#define GPIO_ACTIVE_HIGH 0\n")
	input := write("in.dts", string(source))
	plain := write("plain.dts", string(tool(t, "gcc", "gcc", "-E", "-P", "-nostdinc", "-undef", "-I", dir,
		"-idirafter", "/usr/include",
		"-imacros", "dt-bindings/input/input.h", "-x", "assembler-with-cpp", input)))
	blob := filepath.Join(dir, "out.dtb")
	tool(t, "device-tree-compiler", "dtc", "-q", "-f", "-I", "dts", "-O", "dtb", "-o", blob, plain)
	var cells []uint32
	printed := tool(t, "device-tree-compiler", "fdtget", "-t", "x", blob, node, property)
	for _, word := range strings.Fields(string(printed)) {
		v, err := strconv.ParseUint(word, 16, 32)
		require.NoError(t, err)
		cells = append(cells, uint32(v))
	}
	return cells
}

// tool runs a program of the package; that it is missing is a failure.
func tool(t *testing.T, pkg, name string, args ...string) []byte {
	t.Helper()
	path, err := exec.LookPath(name)
	require.NoError(t, err, "this check needs it: apt-get install %s", pkg)
	var stdout, stderr bytes.Buffer
	cmd := exec.Command(path, args...)
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	require.NoError(t, cmd.Run(), "%s %v: %s", name, args, stderr.String())
	return stdout.Bytes()
}

// ours gives the same cells as this package reads them.
func ours(t *testing.T, source []byte, node, property string) []uint32 {
	t.Helper()
	tree, err := Parse("in.dts", source)
	require.NoError(t, err)
	n := tree.referred(node)
	require.NotNil(t, n)
	cells, ok := n.Property(property).cells()
	require.True(t, ok)
	var values []uint32
	for _, c := range cells {
		assert.Empty(t, c.Unknown, "line %d", c.Line)
		values = append(values, c.Value)
	}
	return values
}

func TestCompilerReadsTheSameCells(t *testing.T) {
	hand := "/ { include-of-the-board { }; bench_keypad: bench { }; };\n"
	for _, c := range []struct {
		file, node string
		cells      int
	}{
		{"gcc-20.dts", "/front-panel", 20},
		{"bench-9.dts", "/bench", 12},
		{"two-units.dts", "/i2c@40005400/keypad@34", 3},
		{"two-units.dts", "/vent-keys", 3},
	} {
		t.Run(c.file+c.node, func(t *testing.T) {
			// The compiler wants the included file; what it would hold is put in its place.
			text := bytes.ReplaceAll(source(t, c.file), []byte(`/include/ "controller.dtsi"`), []byte(hand))
			want := compiled(t, text, c.node, keymapProperty)
			assert.Len(t, want, c.cells)
			assert.Equal(t, want, ours(t, text, c.node, keymapProperty))
		})
	}
}

var operators = strings.Fields("|| && | ^ & == != < > <= >= << >> + - * / %")

// expression writes a chain of operands without parentheses around it, so that
// precedence decides, some operands being expressions of their own.
func expression(r *rand.Rand, depth int) string {
	text := operandText(r, depth)
	for range r.IntN(4) {
		operator := operators[r.IntN(len(operators))]
		right := operandText(r, depth)
		if operator == "/" || operator == "%" {
			right = []string{"5", "SIX"}[r.IntN(2)] // not a zero by accident
		}
		text += " " + operator + " " + right
	}
	if depth > 0 && r.IntN(6) == 0 {
		text += " ? " + expression(r, depth-1) + " : " + expression(r, depth-1)
	}
	return text
}

func operandText(r *rand.Rand, depth int) string {
	sign := []string{"", "", "", "", "-", "~", "!"}[r.IntN(7)]
	if depth > 0 && r.IntN(3) == 0 {
		return sign + "(" + expression(r, depth-1) + ")"
	}
	leaves := []string{"0", "1", "017", "3U", "2UL", "7ULL", "'a'", `'\n'`, "SIX", "SUM", "0xffffffffffffffff", "31",
		fmt.Sprint(r.IntN(40)), fmt.Sprintf("%#x", r.Uint64())}
	return sign + leaves[r.IntN(len(leaves))]
}

// 1600 expressions, each in a cell of its own, read as the compiler
// reads them: precedence, wrapping at 64 bits, unsigned comparison.
func TestCompilerComputesTheSame(t *testing.T) {
	var all strings.Builder
	all.WriteString("/dts-v1/;\n#define SIX (1 + 5)\n#define SUM 2 + 3\n/ { k { cells = <\n")
	r := rand.New(rand.NewPCG(1, 2))
	for range 800 {
		// Masked, since a cell holds 32 bits.
		fmt.Fprintf(&all, "((%s) & 0xffffffff) ((%s) >> 32 & 0xffffffff)\n", expression(r, 3), expression(r, 3))
	}
	all.WriteString("\n>; }; };\n")
	want := compiled(t, []byte(all.String()), "/k", "cells")
	assert.Len(t, want, 1600)
	assert.Equal(t, want, ours(t, []byte(all.String()), "/k", "cells"))
}
