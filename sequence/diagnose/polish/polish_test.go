package polish

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// published is the median polish of a table as the statistics system R gives it.
type published struct {
	Name       string    `json:"name"`
	Rows, Cols int       `json:"-"`
	R          int       `json:"rows"`
	C          int       `json:"cols"`
	Eps        float64   `json:"eps"`
	Most       int       `json:"maxiter"`
	Overall    float64   `json:"overall"`
	Row        []float64 `json:"row"`
	Col        []float64 `json:"col"`
	Residuals  []float64 `json:"residuals_row_major"`
	Sum        float64   `json:"sum_abs_residual"`
}

// The tables and their polish are in testdata/medpolish, with where each is from; the
// first is the worked example of Tukey's book by way of R's own documentation.
func TestMedianPolishAgainstPublishedExamples(t *testing.T) {
	text, err := os.ReadFile("testdata/medpolish/expected.json")
	require.NoError(t, err)
	var all []published
	require.NoError(t, json.Unmarshal(text, &all))
	require.Len(t, all, 7)
	for _, want := range all {
		t.Run(want.Name, func(t *testing.T) {
			p := ByMedians(tableOf(t, strings.TrimSuffix(want.Name, "_tight")), want.Eps, want.Most)
			const tolerance = 1e-9 // the expected values are printed with 15 digits
			assert.InDelta(t, want.Overall, p.Overall, tolerance)
			assert.InDeltaSlice(t, want.Row, p.Row, tolerance)
			assert.InDeltaSlice(t, want.Col, p.Col, tolerance)
			assert.InDeltaSlice(t, want.Residuals, slices.Concat(p.Residual...), tolerance)
			assert.InDelta(t, want.Sum, p.leftOver(), 1e-9)
		})
	}
}

func tableOf(t *testing.T, name string) [][]float64 {
	t.Helper()
	f, err := os.Open("testdata/medpolish/" + name + "_data.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	table := make([][]float64, len(rows))
	for i, row := range rows {
		for _, cell := range row {
			v, err := strconv.ParseFloat(cell, 64)
			require.NoError(t, err)
			table[i] = append(table[i], v)
		}
	}
	return table
}

// On a table that is a sum of terms, least squares and median polish find the same
// terms. With one wild value, median polish leaves it where it is; least squares
// smears it over its row and column (derived: of a value added at one place of an m x n
// table, the fit takes 1/m + 1/n - 1/mn, here 1/5 + 1/4 - 1/20).
func TestLeastSquaresBesideMedianPolish(t *testing.T) {
	exact := BySquares(tableOf(t, "additive_exact_4cols"))
	assert.InDelta(t, 110.5, exact.Overall, 1e-9)
	assert.InDeltaSlice(t, []float64{-12, -6, 0, 6, 12}, exact.Row, 1e-9)
	assert.InDeltaSlice(t, []float64{-13.5, -4.5, 4.5, 13.5}, exact.Col, 1e-9)
	assert.InDelta(t, 0, exact.leftOver(), 1e-9)

	wild := BySquares(tableOf(t, "additive_one_outlier"))
	assert.InDelta(t, 200*(1-1.0/5-1.0/4+1.0/20), wild.Residual[2][1], 1e-9)
	polish := ByMedians(tableOf(t, "additive_one_outlier"), 0.01, 10)
	assert.InDelta(t, 200, polish.Residual[2][1], 1e-9)
}

// A table may have gaps: keys that were not read.
func TestPolishWithGaps(t *testing.T) {
	table := tableOf(t, "additive_exact_4cols")
	table[1][2], table[4][0] = math.NaN(), math.NaN()
	p := ByMedians(table, 1e-9, 100)
	assert.InDelta(t, 0, p.leftOver(), 1e-6)
	assert.True(t, math.IsNaN(p.Residual[1][2]))
	q := BySquares(table)
	assert.InDelta(t, 0, q.leftOver(), 1e-9)
	assert.InDelta(t, 6-(-6), q.Row[3]-q.Row[1], 1e-9)
}
