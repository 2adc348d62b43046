// Package reference holds published and independently computed values, and what
// the tests of statistics hold their own against: to how many digits they agree.
// Its README names the source of each file.
package reference

import (
	"embed"
	"encoding/csv"
	"encoding/json"
	"math"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

//go:embed */*.csv */*.json
var data embed.FS

// Row is a line of a reference table by column.
type Row map[string]string

// Table reads a table of the reference data.
func Table(t *testing.T, path string) []Row {
	t.Helper()
	f, err := data.Open(path)
	require.NoError(t, err)
	defer f.Close()
	records, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(records), 1, path)
	rows := make([]Row, len(records)-1)
	for i, record := range records[1:] {
		rows[i] = Row{}
		for c, name := range records[0] {
			rows[i][name] = record[c]
		}
	}
	return rows
}

// JSON reads a reference that is no table.
func JSON(t *testing.T, path string, into any) {
	t.Helper()
	b, err := data.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, into))
}

// Num is a column as a number.
func (r Row) Num(t *testing.T, column string) float64 {
	t.Helper()
	text, known := r[column]
	require.True(t, known, "no column %s", column)
	x, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err, column)
	return x
}

// Whole is a column as a whole number.
func (r Row) Whole(t *testing.T, column string) int {
	t.Helper()
	x := r.Num(t, column)
	require.Equal(t, x, math.Trunc(x), column)
	return int(x)
}

// Column is one column of all rows.
func Column(t *testing.T, rows []Row, name string) []float64 {
	t.Helper()
	values := make([]float64, len(rows))
	for i, r := range rows {
		values[i] = r.Num(t, name)
	}
	return values
}

// ByGroup splits a column by the value of another, in order of appearance.
func ByGroup(t *testing.T, rows []Row, group, name string) [][]float64 {
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
		groups[i] = append(groups[i], r.Num(t, name))
	}
	return groups
}

// Number is a JSON number that may be written as text.
type Number float64

func (n *Number) UnmarshalJSON(b []byte) error {
	var text string
	if json.Unmarshal(b, &text) == nil {
		x, err := strconv.ParseFloat(text, 64)
		*n = Number(x)
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

// Agrees holds got against a reference to so many digits.
func Agrees(t *testing.T, digits, want, got float64, message ...any) {
	t.Helper()
	have := digitsOf(want, got)
	if !(have >= digits) { // NaN fails
		assert.Fail(t, "too few digits", "want %.17g, got %.17g: %.1f digits where %.1f are asked %v", want, got, have, digits, message)
	}
}

// Printed holds got against a figure printed with so many decimals: half a
// unit in the last, and as many tenths of a unit as the source itself rounded
// on the way.
func Printed(t *testing.T, decimals int, slack, want, got float64, message ...any) {
	t.Helper()
	assert.InDelta(t, want, got, (0.5+slack)*math.Pow(10, -float64(decimals))*(1+1e-9), message...)
}
