package product_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/jsonschema-go/jsonschema"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	yaml "go.yaml.in/yaml/v4"

	"padjig/sequence/fields"
	"padjig/sequence/product"
	"padjig/sequence/product/editor"
)

// everything is a product with every field there is.
const everything = `product: ALL-4
title: Vent board
revision: A
tail: R1 R2 C1 C2 D1 COM GND SH
matrix:
  rows: R1 R2
  columns: C1 C2
  keys: |
    VENT HEAT
    MIST LIGHT
  diodes: row to column
lines: {direct: D1, common: COM, shield: SH, ground: GND}
keys:
  DOOR: {lines: D1 COM, diode: none, at: 0 3, size: 1 1, actuator number: 9, contact: 50 ohm, limits: {guard: 1 U}}
  LIGHT: {group: lamp, width: 1}
layout: |
  VENT HEAT
  MIST LIGHT
groups:
  lamp: {contact: 50 ohm, limits: {contact resistance: at most 180 ohm}}
tracks: {rows: first to last, C1: MIST VENT}
nominal: {contact: 50 ohm, track: 1 ohm, tail: 2 ohm, diode: {saturation: 2.52 nA, emission: 1.752, series: 0.568 ohm}}
limits:
  contact resistance: at most 200 ohm
  insulation resistance: at least 10 Mohm
  bounce on closing: at most 10 ms
  bounce on opening: at most 10 ms
  diode: 0.3 V to 1 V
  guard: risk 1 %
test: {current: at most 5 mA, voltage: at most 5 V, rectangles: yes, also required: seating, not required: bounce on closing, contact current: scanner}
serial: {format: A4-####-*, check: "mod 37,36"}
attempts: 2
repair loops: 2
fails: tag and place
scanner:
  supply: 3.3 V
  pull-up: 47 kohm
  low: at most 0.99 V
  high: at least 2.31 V
  drive: 40 ohm
  idle columns: float
  pull-up tolerance: 35 %
  supply tolerance: 5 %
  line capacitance: 100 pF
  settle: 30 us
  period: 10 ms
  debounce: 20 ms
  shortest press: 50 ms
  port current: 4 mA
references: {every: 8 h or 200 units, within: 15 %, good: REF-G1, bad: {REF-B1: key open at VENT}}
stops: {same finding: 3 units, yield: 90 % of 50 units, same probe: 3 units, unseated: 5 units, reseats: 2}
adapter: A-20
`

// goods are files that are in order, by name.
func goods(t *testing.T) map[string]string {
	t.Helper()
	names, err := filepath.Glob("../../testdata/products/*.yaml")
	require.NoError(t, err)
	require.Greater(t, len(names), 4)
	all := map[string]string{"everything": everything}
	for _, name := range names {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		all[filepath.Base(name)] = string(text)
	}
	return all
}

func schema(t *testing.T) (*jsonschema.Schema, *jsonschema.Resolved) {
	t.Helper()
	var s, copied jsonschema.Schema
	require.NoError(t, json.Unmarshal(editor.Schema, &s))
	require.NoError(t, json.Unmarshal(editor.Schema, &copied))
	resolved, err := copied.Resolve(nil)
	require.NoError(t, err)
	return &s, resolved
}

// asAnEditor gives what an editor makes of the YAML.
func asAnEditor(t *testing.T, n *yaml.Node) any {
	t.Helper()
	switch n.Kind {
	case yaml.DocumentNode:
		return asAnEditor(t, n.Content[0])
	case yaml.MappingNode:
		set := map[string]any{}
		for i := 0; i+1 < len(n.Content); i += 2 {
			set[n.Content[i].Value] = asAnEditor(t, n.Content[i+1])
		}
		return set
	case yaml.SequenceNode:
		list := []any{}
		for _, c := range n.Content {
			list = append(list, asAnEditor(t, c))
		}
		return list
	}
	var v any
	require.NoError(t, n.Decode(&v))
	if i, is := v.(int); is {
		return float64(i)
	}
	return v
}

func parsed(t *testing.T, text string) (yaml.Node, error) {
	t.Helper()
	var doc yaml.Node
	err := yaml.Load([]byte(text), &doc)
	return doc, err
}

func TestEditorsAcceptWhatIsInOrder(t *testing.T) {
	_, resolved := schema(t)
	for name, text := range goods(t) {
		_, err := product.Parse(name, []byte(text))
		require.NoError(t, err, name)
		doc, err := parsed(t, text)
		require.NoError(t, err)
		assert.NoError(t, resolved.Validate(asAnEditor(t, &doc)), name)
	}
}

// An editor knows the names that the reading knows, set by set.
func TestEditorsKnowTheFields(t *testing.T) {
	whole, _ := schema(t)
	seen := map[*jsonschema.Schema]bool{}
	for name, text := range goods(t) {
		doc, err := parsed(t, text)
		require.NoError(t, err)
		for _, set := range product.SetsOf([]byte(text)) {
			path, found := pathTo(&doc, set.At)
			if !found || len(set.Known) == 0 {
				continue
			}
			s := at(t, whole, path)
			seen[s] = true
			assert.ElementsMatch(t, set.Known, slices.Collect(maps.Keys(s.Properties)), "%s, %s", name, path)
		}
	}
	closed := 0
	each(whole, func(s *jsonschema.Schema) {
		if s.AdditionalProperties != nil && s.AdditionalProperties.Not != nil {
			closed++
			assert.True(t, seen[s], "no file has this: %v", slices.Collect(maps.Keys(s.Properties)))
		}
	})
	assert.Equal(t, len(seen), closed)
}

// pathTo gives the names that lead to the set of fields that begins there.
func pathTo(n *yaml.Node, place fields.Place) (path []string, found bool) {
	if n.Kind == yaml.MappingNode && n.Line == place.Line && n.Column == place.Column {
		return nil, true
	}
	for i, c := range n.Content {
		if rest, ok := pathTo(c, place); ok {
			if n.Kind == yaml.MappingNode {
				return append([]string{n.Content[i-1].Value}, rest...), true
			}
			return rest, true
		}
	}
	return nil, false
}

// at follows names into the schema.
func at(t *testing.T, root *jsonschema.Schema, path []string) *jsonschema.Schema {
	t.Helper()
	s := root
	for _, name := range path {
		next := s.Properties[name]
		if next == nil {
			next = s.AdditionalProperties
		}
		require.NotNil(t, next, "%v", path)
		s = set(t, root, next)
	}
	return s
}

// set is what a schema says of a set of fields.
func set(t *testing.T, root, s *jsonschema.Schema) *jsonschema.Schema {
	t.Helper()
	if name, is := strings.CutPrefix(s.Ref, "#/definitions/"); is {
		return set(t, root, root.Definitions[name])
	}
	for _, one := range s.AnyOf {
		if one.Type == "object" {
			return one
		}
	}
	return s
}

func each(s *jsonschema.Schema, do func(*jsonschema.Schema)) {
	if s == nil {
		return
	}
	do(s)
	for _, p := range s.Properties {
		each(p, do)
	}
	for _, p := range s.Definitions {
		each(p, do)
	}
	for _, p := range s.AnyOf {
		each(p, do)
	}
	each(s.AdditionalProperties, do)
}

// Whatever stands in place of a value, an editor refuses nothing that is read.
func TestEditorsRefuseNothingThatIsRead(t *testing.T) {
	_, resolved := schema(t)
	values := []string{
		"1", "2", "none", "yes", "no", "true", "1.0", "3 units", "at most 1 ohm", "at most 150ohm", "at most 0.15 kΩ", "at least 20 Mohm", "1 ohm to 150 ohm",
		"at most 4 ms", "[R1, R2]", "R1 R2", "at most 4 V", "3 V", "5 %", "20 pF", "100 us", "100 µs", "1e2 us", "risk 5 %", "0.5 U", "{}", "[]", "~", "1.5",
		"0.6 V at 1 mA", "last to first", "luhn", "mod 97-10", "8 h", "30 min", "100 units or 2 h", "12 ohm", "1 mA", "seating", "rectangles",
	}
	read, refused := 0, 0
	for name, text := range goods(t) {
		if name == "console-104.yaml" {
			continue // nothing but more of the same
		}
		doc, err := parsed(t, text)
		require.NoError(t, err)
		for _, n := range valuesIn(&doc) {
			kept := *n
			for _, v := range values {
				other, err := parsed(t, v)
				require.NoError(t, err)
				*n = *other.Content[0]
				changed, err := yaml.Dump(&doc)
				require.NoError(t, err)
				if again, err := parsed(t, string(changed)); err == nil {
					ok := resolved.Validate(asAnEditor(t, &again)) == nil
					if _, err := product.Parse(name, changed); err == nil {
						read++
						assert.True(t, ok, "%s: %q at line %d is read, and an editor refuses it", name, v, kept.Line)
					} else if !ok {
						refused++
					}
				}
			}
			*n = kept
		}
	}
	t.Logf("%d changes that are read, of those that are not %d are refused while typing", read, refused)
	assert.Greater(t, read, 100)
	assert.Greater(t, refused, 2000)
}

func valuesIn(n *yaml.Node) (all []*yaml.Node) {
	for i, c := range n.Content {
		if n.Kind == yaml.MappingNode && i%2 == 1 {
			all = append(all, c)
		}
		all = append(all, valuesIn(c)...)
	}
	return all
}

// The names that are refused are refused while typing as well.
func TestEditorsRefuseUnknownFields(t *testing.T) {
	_, resolved := schema(t)
	for name, text := range goods(t) {
		doc, err := parsed(t, text)
		require.NoError(t, err)
		for _, set := range product.SetsOf([]byte(text)) {
			if len(set.Known) == 0 {
				continue
			}
			n := nodeAt(&doc, set.At)
			if n == nil || n.Kind != yaml.MappingNode {
				continue
			}
			n.Content = append(n.Content, &yaml.Node{Kind: yaml.ScalarNode, Value: "colour"}, &yaml.Node{Kind: yaml.ScalarNode, Value: "red"})
			assert.Error(t, resolved.Validate(asAnEditor(t, &doc)), "%s, line %s", name, strconv.Itoa(set.At.Line))
			n.Content = n.Content[:len(n.Content)-2]
		}
	}
}

func nodeAt(n *yaml.Node, place fields.Place) *yaml.Node {
	if n.Kind == yaml.MappingNode && n.Line == place.Line && n.Column == place.Column {
		return n
	}
	for _, c := range n.Content {
		if found := nodeAt(c, place); found != nil {
			return found
		}
	}
	return nil
}

// The schema is kept as json.Indent writes it, so that a change is a small difference.
func TestSchemaOfEditorsIsKeptTidy(t *testing.T) {
	var tidy bytes.Buffer
	require.NoError(t, json.Indent(&tidy, bytes.TrimSpace(editor.Schema), "", "  "))
	assert.Equal(t, fmt.Sprintln(tidy.String()), string(editor.Schema))
}
