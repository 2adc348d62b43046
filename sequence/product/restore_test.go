package product

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A product that comes back from its definition means the same, byte for byte, and is
// the same in everything that a test or a diagnosis needs.
func TestRestoreGivesTheProductBack(t *testing.T) {
	files, err := filepath.Glob("../../testdata/products/*.yaml")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, file := range files {
		p, err := Load(file)
		require.NoError(t, err)
		back, err := Restore(p.Canonical(), p.Title, p.Revision)
		require.NoError(t, err, file)
		assert.Equal(t, string(p.Canonical()), string(back.Canonical()), file)
		assert.Equal(t, p.Rows, back.Rows)
		assert.Equal(t, p.Columns, back.Columns)
		assert.Equal(t, p.Wiring(), back.Wiring())
		assert.Equal(t, p.Pushes(), back.Pushes())
		for i, k := range p.Keys {
			b := back.Keys[i]
			assert.Equal(t, [4]float64{k.X, k.Y, k.W, k.H}, [4]float64{b.X, b.Y, b.W, b.H}, k.Label)
		}
	}
}

func TestRestoreRefusesWhatIsNoDefinition(t *testing.T) {
	for _, c := range []struct{ text, says string }{
		{`{`, "read product definition"},
		{`{"format": 2}`, "format 2"},
		{`{"format": 1, "lines": [{"name": "R1", "kind": "row", "track": ["1"]}]}`, `key "1"`},
		{`{"format": 1, "keys": [{"label": "1", "lines": ["R1", "C1"]}]}`, "lines R1 and C1"},
	} {
		_, err := Restore([]byte(c.text), "", "")
		assert.ErrorContains(t, err, c.says)
	}
}

// A definition comes out of a file that anybody may have written to.
func FuzzRestore(f *testing.F) {
	for _, name := range []string{"gcc-20", "bay-16", "vent-6"} {
		p, err := Load("../../testdata/products/" + name + ".yaml")
		require.NoError(f, err)
		f.Add(p.Canonical())
	}
	f.Fuzz(func(t *testing.T, definition []byte) {
		p, err := Restore(definition, "", "")
		if err == nil {
			p.Circuit()
		}
	})
}
