package fields

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var pads = Format{
	Sentences: map[Code]string{
		"renamed": `%[1]q of %[2]s %[3]q is %[4]q now, with %[5]q or %[6]s`,
		"colour":  "no colour %q%s",
	},
	Renamed: []Renaming{
		{Was: "hue", Now: "colour", Refused: "renamed"},
		{Was: "slot", Now: "place", Refused: "renamed", Separate: true},
	},
}

func read(t *testing.T, text string, kept bool) (*Source, Object) {
	t.Helper()
	s := New("pad.yaml", []byte(text), pads, kept)
	root, ok := s.Root()
	require.True(t, ok, s.Found)
	return s, root.Object("key UP", "colour", "place", "keys", "width")
}

// However a value is written, its words stand where they stand.
func TestWordsKnowTheirPlace(t *testing.T) {
	for text, want := range map[string][]Word{
		"keys: A  ö B":           {{"A", Place{1, 7}}, {"ö", Place{1, 10}}, {"B", Place{1, 12}}},
		"keys: 'A B'":            {{"A", Place{1, 8}}, {"B", Place{1, 10}}},
		"keys: [A, B C]":         {{"A", Place{1, 8}}, {"B", Place{1, 11}}, {"C", Place{1, 13}}},
		"keys: |\n  A B\n   C":   {{"A", Place{2, 3}}, {"B", Place{2, 5}}, {"C", Place{3, 4}}},
		"keys: >\n\n  A\n  B":    {{"A", Place{3, 3}}, {"B", Place{4, 3}}},
		"keys:\n  A\n  B":        {{"A", Place{2, 3}}, {"B", Place{3, 3}}},
		`keys: "A\u0042 C"`:      {{"AB", Place{1, 7}}, {"C", Place{1, 7}}}, // an escape hides it: the start stands for it
		"keys:\n- A\n- B # C":    {{"A", Place{2, 3}}, {"B", Place{3, 3}}},
		"\ufeffkeys: A\r\n# B\n": {{"A", Place{1, 7}}},
	} {
		s, o := read(t, text, false)
		assert.Equal(t, want, o.List("keys"), text)
		assert.Empty(t, s.Found, text)
	}
}

// A field of before is refused, and what it says is read nonetheless, under the new name; one
// whose value means another thing now keeps its name.
func TestRenamedFields(t *testing.T) {
	s, o := read(t, "hue: red\nslot: 4\n", false)
	assert.EqualError(t, s.Found, `pad.yaml:1:1: "hue" of key "UP" is "colour" now, with "red" or N`+"\n"+
		`pad.yaml:2:1: "slot" of key "UP" is "place" now, with "4" or 5`)
	assert.Equal(t, []any{"hue", "key", "UP", "colour", "red", "N"}, s.Found[0].Args)
	assert.True(t, o.Has("colour") && o.Has("slot"))
	assert.False(t, o.Has("hue") || o.Has("place"))

	s, o = read(t, "hue: red\nslot: 4\n", true)
	assert.Empty(t, s.Found)
	assert.True(t, o.Has("colour") && o.Has("slot"))

	s, _ = read(t, "hue: red\ncolour: blue\n", true)
	assert.EqualError(t, s.Found, `pad.yaml:2:1: "colour" stands twice in key UP (first on line 1); keep one of them`)
}

func TestNothingIsSoundAfterAMistake(t *testing.T) {
	s, o := read(t, "width: much\ncolour: rad\n", false)
	s.Begin()
	assert.True(t, o.Sound())
	width := 1.0
	assert.False(t, o.Numbers("width", 1, 2, &width))
	assert.False(t, o.Sound())
	s.Begin()
	assert.True(t, o.Sound(), "what was wrong before is another matter")
	w, _ := o.Line("colour")
	s.Wrong(w.Place, "colour", w.Text, Suggest(w.Text, []string{"red", "blue"}))
	assert.ErrorContains(t, s.Found, `no colour "rad"; did you mean "red"?`)
	assert.Equal(t, Code("colour"), s.Found[1].Code)
}
