package product

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// original is a product that uses every part of the file.
const original = `product: ALL
title: Everything
revision: A
tail: R1 R2 C1 C2 K1 COM SH - GND
matrix:
  rows: R1 R2
  columns: C1 C2
  keys: |
    1 2
    3 4&5
  diodes: row to column
lines: {direct: K1, common: COM, shield: SH, ground: GND}
keys:
  UP: {lines: K1 COM, at: 4 0}
  RESET: {lines: R1 GND, diode: R1 to GND, at: 4 1, size: 2 1}
  2: {width: 1.5, contact: 40 ohm}
groups:
  fast: {keys: 1 3, limits: {bounce on closing: at most 4 ms}}
tracks: {rows: last to first, C1: 3 1}
nominal: {contact: 50 ohm, track: 1 ohm, tail: 2 ohm, diode: 0.6 V at 1 mA}
limits: {contact resistance: at most 200 ohm, insulation resistance: at least 20 Mohm, diode: 0.3 V to 0.9 V, guard: 1 U}
test: {current: at most 5 mA, voltage: at most 5 V, rectangles: yes}
serial: {format: ALL-####*, check: luhn}
attempts: 2
scanner: {supply: 3.3 V, pull-up: 47 kohm, low: at most 0.99 V, high: at least 2.31 V, idle columns: float}
`

func hashOf(t *testing.T, text string) string {
	t.Helper()
	p, err := Parse("f", []byte(text))
	require.NoError(t, err, text)
	return p.Hash()
}

func edit(t *testing.T, from, to string) string {
	t.Helper()
	require.Contains(t, original, from)
	return strings.Replace(original, from, to, 1)
}

func TestHashIsThatOfTheMeaning(t *testing.T) {
	want := hashOf(t, original)
	for name, same := range map[string]string{
		"usual loops":     edit(t, "attempts: 2", "attempts: 2\nrepair loops: 3"),
		"comment":         edit(t, "attempts: 2", "# twice\nattempts: 2 # times"),
		"carriage return": strings.ReplaceAll(original, "\n", "\r\n"),
		"byte order mark": "\ufeff" + original,
		"spaces in grid":  edit(t, "    1 2\n    3 4&5", "      1     2\n\n      3   4&5  "),
		"units":           edit(t, "at most 200 ohm", "at most 0.2 kohm"),
		"millivolt":       edit(t, "0.3 V to 0.9 V", "300 mV to 900 mV"),
		"stated default":  edit(t, "diode: 0.3 V", "bounce on closing: at most 10 ms, diode: 0.3 V"),
		"list":            edit(t, "rows: R1 R2", "rows: [R1, R2]"),
		"list of rows":    edit(t, "keys: |\n    1 2\n    3 4&5", "keys:\n    - 1 2\n    - 3 4&5"),
		"quotes":          edit(t, "columns: C1 C2", `columns: "C1 C2"`),
		"block style": edit(t, "tracks: {rows: last to first, C1: 3 1}",
			"tracks:\n  C1: 3 1\n  rows:\n    last to first"),
		"order of keys": edit(t, "  UP: {lines: K1 COM, at: 4 0}\n  RESET: {lines: R1 GND",
			"  RESET: {lines: R1 GND"),
		"order of kinds": edit(t, "direct: K1, common: COM", "common: COM, direct: K1"),
		"order of lines": edit(t, "lines: R1 GND", "lines: GND R1"),
		"title":          edit(t, "title: Everything", "title: Anything"),
		"revision":       edit(t, "revision: A", "revision: B"),
		"drawn as it is": edit(t, "    3 4&5\n", "    3 4&5\n") + "layout: |\n  1 2\n  3\n",
	} {
		switch name {
		case "order of keys":
			same = strings.Replace(same, "size: 2 1}\n", "size: 2 1}\n  UP: {lines: K1 COM, at: 4 0}\n", 1)
		case "drawn as it is":
			same = strings.Replace(same, "groups:", "  4: {at: 1 1, width: 0.5}\n  5: {at: 1.5 1, width: "+
				"0.5}\ngroups:", 1)
		}
		assert.Equal(t, want, hashOf(t, same), name)
	}
}

func TestHashChangesWithTheMeaning(t *testing.T) {
	seen := map[string]string{hashOf(t, original): "original"}
	for name, change := range map[string][2]string{
		"code":       {"product: ALL", "product: ALL2"},
		"tail order": {"tail: R1 R2", "tail: R2 R1"},
		"unused pin": {"SH - GND", "SH GND"},
		"line name": {"direct: K1, common: COM, shield: SH, ground: GND}",
			"direct: K1, common: COM, ground: GND SH}"},
		"keys exchanged":  {"4&5", "5&4"},
		"label":           {"4&5", "4&6"},
		"diodes turned":   {"row to column", "column to row"},
		"diode of a key":  {"diode: R1 to GND", "diode: GND to R1"},
		"no diode":        {"diode: R1 to GND", "diode: none"},
		"line of a key":   {"lines: R1 GND, diode: R1 to", "lines: R2 GND, diode: R2 to"},
		"place":           {"at: 4 1, size: 2 1", "at: 4 2, size: 2 1"},
		"size":            {"size: 2 1", "size: 2 2"},
		"width":           {"width: 1.5", "width: 1.25"},
		"contact":         {"contact: 40 ohm", "contact: 41 ohm"},
		"actuator":        {"at: 4 0", "at: 4 0, actuator number: 30"},
		"group members":   {"keys: 1 3", "keys: 1 4"},
		"group name":      {"fast:", "quick:"},
		"group limit":     {"at most 4 ms", "at most 5 ms"},
		"track order":     {"C1: 3 1", "C1: 1 3"},
		"tracks":          {"last to first", "first to last"},
		"nominal contact": {"contact: 50 ohm", "contact: 51 ohm"},
		"nominal track":   {"track: 1 ohm", "track: 1.1 ohm"},
		"nominal tail":    {"tail: 2 ohm", "tail: 2.1 ohm"},
		"nominal diode":   {"0.6 V at 1 mA", "0.6 V at 1.1 mA"},
		"closed":          {"contact resistance: at most 200 ohm", "contact resistance: at most 201 ohm"},
		"closed from":     {"contact resistance: at most 200 ohm", "contact resistance: 1 ohm to 200 ohm"},
		"rest":            {"20 Mohm", "21 Mohm"},
		"make":            {"diode: 0.3 V", "bounce on closing: at most 9 ms, diode: 0.3 V"},
		"break":           {"diode: 0.3 V", "bounce on opening: at most 9 ms, diode: 0.3 V"},
		"forward from":    {"0.3 V to 0.9 V", "0.31 V to 0.9 V"},
		"forward to":      {"0.3 V to 0.9 V", "0.3 V to 0.91 V"},
		"guard":           {"guard: 1 U", "guard: 0.83 U"},
		"no guard":        {"guard: 1 U", "guard: none"},
		"current":         {"current: at most 5 mA", "current: at most 4 mA"},
		"voltage":         {"voltage: at most 5 V", "voltage: at most 4 V"},
		"rectangles":      {"rectangles: yes", "rectangles: no"},
		"seating":         {"rectangles: yes", "rectangles: yes, also required: seating"},
		"no bounce":       {"rectangles: yes", "rectangles: yes, not required: bounce on closing"},
		"neither bounce":  {"rectangles: yes", `rectangles: yes, not required: "bounce on opening, bounce on closing"`},
		"serial format":   {"ALL-####*", "ALL-#####*"},
		"check":           {"check: luhn", "check: 'mod 11,10'"},
		"attempts":        {"attempts: 2", "attempts: 3"},
		"repair loops":    {"attempts: 2", "attempts: 2\nrepair loops: 2"},
		"supply":          {"supply: 3.3 V", "supply: 3.4 V"},
		"pull-up":         {"47 kohm", "48 kohm"},
		"low":             {"0.99 V", "0.98 V"},
		"high":            {"2.31 V", "2.32 V"},
		"drive":           {"idle columns: float", "drive: 51 ohm, idle columns: float"},
		"idle":            {"idle columns: float", "idle columns: driven"},
		"no scanner": {"scanner: {supply: 3.3 V, pull-up: 47 kohm, low: at most 0.99 V, high: at " +
			"least 2.31 V, idle columns: float}\n", ""},
	} {
		h := hashOf(t, edit(t, change[0], change[1]))
		if other, same := seen[h]; same {
			t.Errorf("%s has the hash of %s", name, other)
		}
		seen[h] = name
	}
}

// What a hash was taken of in the past keeps it: records name products by it.
// A line here changes only when a shipped file itself does.
func TestShippedProductsKeepTheirHashes(t *testing.T) {
	for name, hash := range map[string]string{
		"gcc-20":      "fd2f799a1b627fa3d20b4866ccff01e6ea5d21e0b19c027bf839446a0b52eb85",
		"vent-6":      "17730ece314dd94a15b222c1d77c1b68bb990c3fb7e8539c058bea341d7eb73a",
		"bay-16":      "35516a9a587ab17b8522c6bc615f7bcba6954468afc677b39cafcff6ced7b546",
		"console-104": "77e4fc4f75749cee14755dca2d563db17a7934bb7a1a7d8ed36682909dcfce29",
	} {
		assert.Equal(t, hash, load(t, name+".yaml").Hash(), name)
	}
}

// A risk is written down as the multiple of U it comes to.
func TestGuardForARiskIsAMultiple(t *testing.T) {
	with := func(guard string) string { return edit(t, "guard: 1 U", "guard: "+guard) }
	for guard, multiple := range map[string]float64{
		"none": 0, "1 U": 1, "0.83U": 0.83, "risk 1 %": 1.16317, "risk 5%": 0.822427, "risk 2.275 %": 1.0000,
		"risk 15.8655 %": 0.5, "risk 0.135 %": 1.5,
	} {
		p, err := Parse("f", []byte(with(guard)))
		require.NoError(t, err, guard)
		assert.InDelta(t, multiple, p.Keys[0].Limits.Guard, 1e-5*max(1, multiple), guard)
	}
	assert.Equal(t, hashOf(t, with("risk 1 %")), hashOf(t, with("1.16317393702 U")))
	assert.NotEqual(t, hashOf(t, with("risk 1 %")), hashOf(t, with("risk 1.0001 %")))
	assert.Contains(t, string(mustParse(t, with("risk 1 %")).Canonical()), `"guard_u":1.16317393702`)
}

func mustParse(t *testing.T, text string) *Product {
	t.Helper()
	p, err := Parse("f", []byte(text))
	require.NoError(t, err, text)
	return p
}

func TestGuardRefuses(t *testing.T) {
	for _, guard := range []string{"risk", "risk %", "risk 1", "risk 0 %", "risk 50 %", "risk 99 %", "risk -1 %",
		"risk 1e-9 %", "risk NaN %", "risk Inf %", "risk 1 U", "1 %", "risk 1 % U", "0 U", "3.01 U", "NaN U", "U", "None"} {
		text := edit(t, "guard: 1 U", "guard: "+guard)
		_, err := Parse("f", []byte(text))
		var wrong Mistakes
		require.ErrorAs(t, err, &wrong, guard)
		line := strings.Split(text, "\n")[wrong[0].Line-1]
		assert.Equal(t, strings.Index(line, "guard: ")+len("guard: ")+1, wrong[0].Column, guard)
		assert.Contains(t, wrong[0].Message, "guard cannot be \""+guard+"\"; write a multiple")
	}
}

func TestCanonicalIsJSON(t *testing.T) {
	p := load(t, "gcc-20.yaml")
	var m map[string]any
	require.NoError(t, json.Unmarshal(p.Canonical(), &m))
	assert.Equal(t, "GCC-20", m["product"])
	assert.NotContains(t, string(p.Canonical()), "Greenhouse")
	assert.Contains(t, string(p.Canonical()), `"<"`, "labels are not escaped")
	assert.Len(t, p.Hash(), 64)
}

// The order in which fields of a file stand never matters.
func TestFieldOrderProperty(t *testing.T) {
	var parts []string
	for line := range strings.Lines(original) {
		if strings.HasPrefix(line, " ") {
			parts[len(parts)-1] += line
		} else {
			parts = append(parts, line)
		}
	}
	want := hashOf(t, original)
	rapid.Check(t, func(r *rapid.T) {
		p, err := Parse("f", []byte(strings.Join(rapid.Permutation(parts).Draw(r, "fields"), "")))
		require.NoError(r, err)
		require.Equal(r, want, p.Hash())
	})
}

// Whatever is in a file, reading it ends, and what is accepted keeps its promises.
func FuzzParse(f *testing.F) {
	for _, pattern := range []string{"*.yaml", "bad/*.yaml"} {
		files, err := filepath.Glob("../../testdata/products/" + pattern)
		require.NoError(f, err)
		for _, file := range files {
			text, err := os.ReadFile(file)
			require.NoError(f, err)
			f.Add(text)
		}
	}
	f.Add([]byte(original))
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := Parse("f", text)
		if err != nil {
			var m Mistakes
			require.ErrorAs(t, err, &m)
			require.NotEmpty(t, m)
			lines := strings.Count(string(text), "\n") + 1
			for _, one := range m {
				require.GreaterOrEqual(t, one.Column, 1, one)
				require.True(t, one.Line >= 1 && one.Line <= lines+1, one)
			}
			return
		}
		consistent(t, p)
		again, err := Parse("f", text)
		require.NoError(t, err)
		require.Equal(t, p.Canonical(), again.Canonical())
		require.True(t, json.Valid(p.Canonical()))
		require.NoError(t, p.Serial.Check(p.Serial.Example()))
		require.Len(t, p.Circuit().Keys, len(p.Keys))
	})
}

// The current of contacts came later: a file that does not state it keeps its hash, and one
// that does is restored with it.
func TestContactCurrentEntersTheHashWhereStated(t *testing.T) {
	const pad = "product: PAD\ntail: R1 C1\nmatrix: {rows: R1, columns: C1, keys: GO}\n"
	const scanner = "scanner: {supply: 3.3 V, pull-up: 47 kohm}\n"
	for text, want := range map[string]ContactCurrent{
		pad: {},
		pad + scanner + "test: {contact current: scanner}\n": {Scanner: true},
		pad + "test: {contact current: 50 uA}\n":             {Stated: 50e-6},
	} {
		p, err := Parse("pad.yaml", []byte(text))
		require.NoError(t, err)
		assert.Equal(t, want.Scanner, p.Test.Contact.Scanner)
		assert.InDelta(t, float64(want.Stated), float64(p.Test.Contact.Stated), 1e-12)
		assert.Equal(t, want.Asked(), strings.Contains(string(p.Canonical()), "contact_current"), text)
		kept, err := ParseKept("pad.yaml", []byte(text))
		require.NoError(t, err, "a release of before")
		assert.Equal(t, p.Hash(), kept.Hash())
		q, err := Restore(p.Canonical(), "", "")
		require.NoError(t, err)
		assert.Equal(t, p.Test.Contact.Scanner, q.Test.Contact.Scanner)
		assert.Equal(t, p.Hash(), q.Hash())
	}
	p, err := Parse("pad.yaml", []byte(pad+scanner+"test: {contact current: scanner}\n"))
	require.NoError(t, err)
	// 3.3 V less 5 % over 47 kohm and 35 %, with 50 ohm of the driver and a contact of 200 ohm.
	assert.InEpsilon(t, 3.135/(63450+250), float64(p.ContactCurrent(0)), 1e-12)
}
