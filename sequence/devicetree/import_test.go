package devicetree

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/sequence/product"
)

const sources = "../../testdata/devicetree/"

func source(t *testing.T, file string) []byte {
	t.Helper()
	text, err := os.ReadFile(sources + file)
	require.NoError(t, err)
	return text
}

func imported(t *testing.T, text, node string) *Keypad {
	t.Helper()
	pad, err := Import("pad.dts", []byte(text), node)
	require.NoError(t, err)
	return pad
}

// load makes the product of the draft; every draft must be one.
func load(t require.TestingT, pad *Keypad) *product.Product {
	draft := pad.Draft("PAD")
	p, err := product.Parse("draft.yaml", draft)
	require.NoError(t, err, "%s", draft)
	return p
}

// Files in testdata/devicetree hold what is expected of them beneath the line
// it is about: //! COLUMN part of a mistake, //? COLUMN part of a remark.
var mark = regexp.MustCompile(`^//([!?]) (\d+) (.+)$`)

type expected struct {
	line, column int
	part         string
}

func marksOf(t *testing.T, text []byte, sign string) (all []expected) {
	t.Helper()
	above := 0
	for i, line := range strings.Split(string(text), "\n") {
		m := mark.FindStringSubmatch(line)
		if m == nil {
			above = i + 1
			continue
		}
		column, err := strconv.Atoi(m[2])
		require.NoError(t, err)
		if m[1] == sign {
			all = append(all, expected{above, column, m[3]})
		}
	}
	return all
}

func compare(t assert.TestingT, want []expected, got product.Mistakes) {
	for _, m := range got {
		i := slices.IndexFunc(want, func(e expected) bool {
			return e.line == m.Line && e.column == m.Column && strings.Contains(m.Message, e.part)
		})
		if i < 0 {
			t.Errorf("not marked: %v", m)
			continue
		}
		want = slices.Delete(want, i, i+1)
	}
	for _, e := range want {
		t.Errorf("not found: %d:%d: %s", e.line, e.column, e.part)
	}
}

func TestBadSources(t *testing.T) {
	files, err := filepath.Glob(sources + "bad/*.dts")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			text := source(t, "bad/"+filepath.Base(file))
			want := marksOf(t, text, "!")
			require.NotEmpty(t, want, "no mistake is marked in this file")
			_, err := Import(file, text, "")
			var got product.Mistakes
			require.ErrorAs(t, err, &got)
			compare(t, want, got)
			assert.True(t, slices.IsSortedFunc(got, func(a, b product.Mistake) int {
				return (a.Line-b.Line)*10000 + a.Column - b.Column
			}), "mistakes are not in the order of the source")
		})
	}
}

func TestRemarks(t *testing.T) {
	for file, node := range map[string]string{"gcc-20.dts": "", "bench-9.dts": "", "two-units.dts": "hand"} {
		t.Run(file, func(t *testing.T) {
			text := source(t, file)
			pad, err := Import(file, text, node)
			require.NoError(t, err)
			compare(t, marksOf(t, text, "?"), pad.Remarks)
			load(t, pad)
		})
	}
}

func TestCompareSeesMissingAndExtra(t *testing.T) {
	m := product.Mistakes{{File: "f", Line: 3, Column: 7, Message: "no such key"}}
	for name, want := range map[string][]expected{
		"extra": {}, "missing": {{3, 7, "such"}, {4, 1, "other"}}, "line": {{2, 7, "such"}},
		"column": {{3, 6, "such"}}, "message": {{3, 7, "line"}},
	} {
		fake := new(testing.T)
		compare(fake, want, m)
		assert.True(t, fake.Failed(), name)
	}
	fake := new(testing.T)
	compare(fake, []expected{{3, 7, "such"}}, m)
	assert.False(t, fake.Failed())
}

// The panel of the shipped product has a devicetree too; both say the same.
func TestPanelAgreesWithItsProductFile(t *testing.T) {
	pad, err := Import("gcc-20.dts", source(t, "gcc-20.dts"), "")
	require.NoError(t, err)
	assert.Contains(t, string(pad.Draft("PAD")), "\n#   R5 is &pio 4\n#   C1 is &pio 16\n")
	got := load(t, pad)
	want, err := product.Load("../../testdata/products/gcc-20.yaml")
	require.NoError(t, err)
	assert.Len(t, got.Rows, len(want.Rows))
	assert.Len(t, got.Columns, len(want.Columns))
	require.Len(t, got.Keys, len(want.Keys))
	labels := map[string]string{"CLEAR": "CLR", "DOT": ".", "LEFT": "<", "RIGHT": ">", "ENTER": "OK"}
	for i, k := range got.Keys {
		label := k.Label
		if l, other := labels[label]; other {
			label = l
		}
		assert.Equal(t, want.Keys[i].Label, label)
		assert.Equal(t, 5*time.Millisecond, k.Limits.Make)
		assert.Equal(t, 5*time.Millisecond, k.Limits.Break)
	}
}

// The scanner of the draft is a remark until a person has filled it in.
func TestScannerCanBeSwitchedOn(t *testing.T) {
	pad, err := Import("gcc-20.dts", source(t, "gcc-20.dts"), "")
	require.NoError(t, err)
	assert.Nil(t, load(t, pad).Scanner)
	text := regexp.MustCompile(`(?m)^# (scanner:|  (supply|pull-up|idle columns):)`).
		ReplaceAllString(string(pad.Draft("PAD")), "$1")
	p, err := product.Parse("draft.yaml", []byte(text))
	require.NoError(t, err)
	require.NotNil(t, p.Scanner)
	assert.True(t, p.Scanner.IdleDriven)
	assert.EqualValues(t, 47e3, p.Scanner.PullUp)
	assert.Equal(t, ActiveLow, pad.Scan.Polarity)
	assert.Equal(t, 2*time.Microsecond, pad.Scan.Settle)
}

func TestKeysOfTheBench(t *testing.T) {
	pad, err := Import("bench-9.dts", source(t, "bench-9.dts"), "&bench_keypad")
	require.NoError(t, err)
	assert.Equal(t, []string{
		"ESC R1 C1", "F1 R1 C2", "F2 R1 C3", "F7 R2 C1", "RESERVED R2 C2", "F1_2 R2 C3", "F9 R2 C3",
		"K767 R3 C4", "POWER R3 GND",
	}, joins(load(t, pad)))
}

// joins lists the keys with the lines each joins.
func joins(p *product.Product) (all []string) {
	for _, k := range p.Keys {
		all = append(all, k.Label+" "+p.Lines[k.A].Name+" "+p.Lines[k.B].Name)
	}
	return all
}

// The examples of the kernel's bindings matrix-keymap and gpio-matrix-keypad
// (Documentation/devicetree/bindings/input), by their numbers; the meaning of
// the codes is that of linux/input-event-codes.h.
func TestExamplesOfTheBindings(t *testing.T) {
	pad := imported(t, `/ { k { linux,keymap = <0x00030012 0x0102003a>;
		keypad,num-rows = <2>; keypad,num-columns = <8>; }; };`, "")
	assert.Equal(t, []string{"E R1 C4", "CAPSLOCK R2 C3"}, joins(load(t, pad)))
	pad = imported(t, `/ { k {
		row-gpios = <&gpio2 25 0 &gpio2 26 0 &gpio2 27 0>; col-gpios = <&gpio2 21 0 &gpio2 22 0>;
		linux,keymap = <0x8B 0x0100009E 0x02000069 0x0001006A 0x0101001C 0x0201006C>; }; };`, "")
	assert.Equal(t, []string{"MENU R1 C1", "RIGHT R1 C2", "BACK R2 C1", "ENTER R2 C2", "LEFT R3 C1", "DOWN R3 C2"},
		joins(load(t, pad)))
	assert.Equal(t, []string{"&gpio2 25", "&gpio2 26", "&gpio2 27"}, pad.Rows.GPIOs)
	assert.Equal(t, ActiveHigh, pad.Scan.Polarity)
}

// Our table of key codes against the header of the C library's kernel headers.
func TestKeyCodesAgreeWithTheHeader(t *testing.T) {
	const header = "/usr/include/linux/input-event-codes.h"
	text, err := os.ReadFile(header)
	require.NoError(t, err, "this check needs the kernel headers: apt-get install linux-libc-dev")
	checked := 0
	for _, m := range regexp.MustCompile(`(?m)^#define\s+(KEY_\w+)\s+(\w+)`).FindAllStringSubmatch(string(text), -1) {
		value, err := strconv.ParseUint(m[2], 0, 16)
		ours, known := constants[m[1]]
		if err != nil || !known {
			continue
		}
		checked++
		assert.Equal(t, value, ours, m[1])
		assert.Equal(t, strings.TrimPrefix(m[1], "KEY_"), labelOf("", uint16(value)))
	}
	assert.Equal(t, len(constants)-10, checked, "all but the flags of GPIOs are codes of the header")
}

func TestPolarity(t *testing.T) {
	for text, want := range map[string]Polarity{
		``:                                      Unstated,
		`row-gpios = <&p 1 1>, <&p 2 1>;`:       ActiveLow,
		`row-gpios = <&p 1 (1 | FLAG)>;`:        Mixed,
		`row-gpios = <&p 1 0>, <&p 2 1>;`:       Mixed,
		`row-gpios = <&p 1>;`:                   Mixed,
		`row-gpios = <&p 1 0>;`:                 ActiveHigh,
		`row-gpios = <&p 1 0>; gpio-activelow;`: ActiveLow,
		`row-gpios = <&p PIN(A, 3) (GPIO_ACTIVE_LOW | GPIO_PULL_UP)>;`: ActiveLow,
	} {
		pad := imported(t, "/ { k { linux,keymap = <2>; "+text+"}; };", "")
		assert.Equal(t, want, pad.Scan.Polarity, text)
	}
}

// What the size and the list of lines say of each other.
func TestSizes(t *testing.T) {
	for text, want := range map[string]string{
		`keypad,num-rows = <2>; row-gpios = <&p 1 1>, <&p 2 1>, <&p 3 1>;`: "keypad,num-rows is 2, but row-gpios lists 3",
		`row-gpios = <7 1 1>;`:        "row-gpios has no references such as &gpio2",
		`keypad,num-rows = <4>;`:      "2 of 4 rows have no key",
		`debounce-delay-ms = <1000>;`: "debounce-delay-ms is 1000; no limit of bounce",
	} {
		pad := imported(t, "/ { k { linux,keymap = <1 0x01000002>; "+text+"}; };", "")
		assert.Contains(t, pad.Remarks.Error(), want)
		assert.Equal(t, 10*time.Millisecond, load(t, pad).Keys[0].Limits.Make)
	}
}

func TestMoreThanAProductHolds(t *testing.T) {
	for what, c := range map[string]struct{ rows, columns int }{
		"keys on 33 rows and 1 columns":  {33, 1},
		"keys on 1 rows and 33 columns":  {1, 33},
		"keys on 32 rows and 32 columns": {32, 32},
		"544 keys":                       {17, 32},
	} {
		var cells strings.Builder
		for i := range c.rows * c.columns {
			if what == "544 keys" || i/c.columns == 0 || i%c.columns == 0 {
				fmt.Fprintf(&cells, "MATRIX_KEY(%d, %d, %d)\n", i/c.columns, i%c.columns, i+1)
			}
		}
		_, err := Import("big.dts", []byte("/ { k { linux,keymap = <"+cells.String()+">; }; };"), "")
		assert.ErrorContains(t, err, what)
	}
}

func TestGroundKeysAlone(t *testing.T) {
	pad := imported(t, `/ { k { linux,keymap = <MATRIX_KEY(0, 2, KEY_UP) MATRIX_KEY(1, 2, KEY_N)
		MATRIX_KEY(1, 2, KEY_NULL)>; keypad,num-rows = <2>; keypad,num-columns = <2>; }; };`, "")
	assert.Equal(t, []string{"UP R1 GND", "N R2 GND", "NULL R2 GND"}, joins(load(t, pad)))
}

func TestChoosingTheNode(t *testing.T) {
	text := source(t, "two-units.dts")
	for _, name := range []string{"hand", "&hand", "/i2c@40005400/keypad@34"} {
		pad, err := Import("two.dts", text, name)
		require.NoError(t, err)
		assert.Equal(t, "/i2c@40005400/keypad@34", pad.Node)
	}
	pad, err := Import("two.dts", text, "/vent-keys")
	require.NoError(t, err)
	assert.Len(t, pad.Keys, 2)
	assert.Contains(t, pad.Remarks.Error(), "does not read a row switched to ground")
	assert.Contains(t, pad.Remarks.Error(), "not switched on here")
	for name, message := range map[string]string{
		"":    "expected one node with linux,keymap; there is /i2c@40005400/keypad@34 (&hand), /vent-keys",
		"pio": "no such node with linux,keymap",
		"no":  "no such node with linux,keymap",
	} {
		_, err := Import("two.dts", text, name)
		assert.ErrorContains(t, err, message)
	}
	_, err = Import("none.dts", []byte("/ { };"), "")
	assert.ErrorContains(t, err, "there is none")
}

func TestNodesAreOneHoweverOpened(t *testing.T) {
	pad := imported(t, `
/ { soc { k: keypad { keypad,num-rows = <1>; keypad,num-columns = <1>; linux,keymap = <2>; stray; };
	gone { linux,keymap = <3>; }; }; };
/ { soc { keypad { keypad,num-rows = <2>; /delete-property/ stray; }; /delete-node/ gone; }; };
more: &k { keypad,num-columns = <2>; linux,keymap = <0x01010003>; };
&{/soc/keypad} { drive-inactive-cols; };
other: &elsewhere { linux,keymap = <4>; };
/delete-node/ &other;`, "")
	assert.Equal(t, "/soc/keypad", pad.Node)
	assert.Equal(t, []string{"2 R2 C2"}, joins(load(t, pad)))
	assert.True(t, pad.Scan.IdleDriven)
	assert.Equal(t, [2]int{2, 2}, [2]int{pad.Rows.Count, pad.Columns.Count})
}

func TestSyntaxThatIsPassedOver(t *testing.T) {
	imported(t, "\ufeff/dts-v1/;\r\n/plugin/;\n/memreserve/ 0x1000 0x20;\n"+
		"# 1 \"board.dts\"\n#pragma once\n#define EMPTY\n#define CALL(a) a\n#define TEXT \"a\"\n#undef EMPTY\n"+
		`/ { a = "x\"y", "z"; b = [00 ff]; c = &k, &{/k}; d = /bits/ 8 <1 2>, /bits/ 64 <0x123456789>; `+
		`e = /incbin/("f.bin"); f = TEXT; g = CALL(1); h = l1: <1 l2: 2> l3: ; #gpio-cells = <2>; `+
		`i = <PIN(1, (2)) NAME (NAME + 1) &k &{/k} '\n' (-1)>; /omit-if-no-ref/ x: y { };
		k: k { linux,keymap = <2 /* one key */>; }; };`, "k")
}

func TestMacrosAreText(t *testing.T) {
	pad := imported(t, `
#define SUM 1 + 2 /* not in parentheses,
                     as text goes */
#define PAIR <
#define KEYS MATRIX_KEY(0, (SUM * 3), KEY_A) \
             MATRIX_KEY(SELF, 0, KEY_SELF)
#define SELF OTHER
#define OTHER (1)
#define KEY_SELF KEY_SELF
/ { k { linux,keymap = <KEYS>; }; };`, "")
	assert.Equal(t, []string{"A R1 C8", "SELF R2 C1"}, joins(load(t, pad)))
}

func TestMacrosThatDoubleEachOtherAreStopped(t *testing.T) {
	text := "#define M0 1 1\n"
	for i := range 40 {
		text += "#define M" + strconv.Itoa(i+1) + " M" + strconv.Itoa(i) + " M" + strconv.Itoa(i) + "\n"
	}
	_, err := Import("bomb.dts", []byte(text+"/ { k { linux,keymap = <M40>; }; };"), "")
	assert.ErrorContains(t, err, "macros put in more than 50000 tokens")
}
