package stats

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// row is a line of a reference table by column.
type row map[string]string

func readTable(t *testing.T, path string) []row {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", "reference", path))
	require.NoError(t, err)
	defer f.Close()
	records, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(records), 1, path)
	rows := make([]row, len(records)-1)
	for i, record := range records[1:] {
		rows[i] = row{}
		for c, name := range records[0] {
			rows[i][name] = record[c]
		}
	}
	return rows
}

func readJSON(t *testing.T, path string, into any) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", "reference", path))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, into))
}

func (r row) num(t *testing.T, column string) float64 {
	t.Helper()
	text, known := r[column]
	require.True(t, known, "no column %s", column)
	x, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err, column)
	return x
}

func (r row) whole(t *testing.T, column string) int {
	t.Helper()
	x := r.num(t, column)
	require.Equal(t, x, math.Trunc(x), column)
	return int(x)
}

func column(t *testing.T, rows []row, name string) []float64 {
	t.Helper()
	values := make([]float64, len(rows))
	for i, r := range rows {
		values[i] = r.num(t, name)
	}
	return values
}

// byGroup splits a column by the value of another, in order of appearance.
func byGroup(t *testing.T, rows []row, group, name string) [][]float64 {
	t.Helper()
	index := map[string]int{}
	var groups [][]float64
	for _, r := range rows {
		i, known := index[r[group]]
		if !known {
			i = len(groups)
			index[r[group]] = i
			groups = append(groups, nil)
		}
		groups[i] = append(groups[i], r.num(t, name))
	}
	return groups
}

// exactNumber is a JSON number that may be written as text.
type exactNumber float64

func (n *exactNumber) UnmarshalJSON(b []byte) error {
	var text string
	if json.Unmarshal(b, &text) == nil {
		x, err := strconv.ParseFloat(text, 64)
		*n = exactNumber(x)
		return err
	}
	return json.Unmarshal(b, (*float64)(n))
}

// digitsOf is the log relative error: to how many digits got agrees with
// want; for want 0 by the absolute error.
func digitsOf(want, got float64) float64 {
	if want == got {
		return 17
	}
	if want == 0 {
		return -math.Log10(math.Abs(got))
	}
	return -math.Log10(math.Abs(got-want) / math.Abs(want))
}

// agrees holds got against a reference to so many digits.
func agrees(t *testing.T, digits, want, got float64, message ...any) {
	t.Helper()
	have := digitsOf(want, got)
	if !(have >= digits) { // NaN fails
		assert.Fail(t, "too few digits", "want %.17g, got %.17g: %.1f digits where %.1f are asked %v", want, got, have, digits, message)
	}
}

// printed holds got against a figure printed with so many decimals: half a
// unit in the last, and as many tenths of a unit as the source itself rounded
// on the way.
func printed(t *testing.T, decimals int, slack, want, got float64, message ...any) {
	t.Helper()
	assert.InDelta(t, want, got, (0.5+slack)*math.Pow(10, -float64(decimals))*(1+1e-9), message...)
}
