// Package polish takes tables of readings apart, and has the few estimates that a wild
// value does not move.
package polish

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
)

// Terms are a table taken apart into an overall value, a term for each row and each
// column, and what is left at each place.
type Terms struct {
	Overall  float64
	Row, Col []float64
	Residual [][]float64 // NaN where there was no value
}

// ByMedians takes a table apart by medians (Tukey, Exploratory Data Analysis, 1977;
// from memory), so that a single wild value stays where it is and moves no term. The
// order of the steps and the rule to stop are those that the published examples of the
// statistics system R follow: rows first, until the sum of absolute residuals changes by
// less than eps of itself, at most iterations times. NaN stands for no value.
func ByMedians(table [][]float64, eps float64, iterations int) Terms {
	p := Terms{Row: make([]float64, len(table)), Residual: make([][]float64, len(table))}
	for i := range table {
		p.Residual[i] = slices.Clone(table[i])
	}
	if len(table) == 0 {
		return p
	}
	p.Col = make([]float64, len(table[0]))
	before := 0.0
	for range iterations {
		p.sweepRows()
		p.Overall += centre(p.Col)
		p.sweepColumns()
		p.Overall += centre(p.Row)
		sum := p.leftOver()
		if sum == 0 || math.Abs(sum-before) < eps*sum {
			break
		}
		before = sum
	}
	return p
}

// centre takes the median off a list of terms.
func centre(terms []float64) float64 {
	m := Median(terms)
	for i := range terms {
		terms[i] -= m
	}
	return m
}

func (p *Terms) sweepRows() {
	for i, row := range p.Residual {
		m := Median(row)
		for j := range row {
			row[j] -= m
		}
		p.Row[i] += m
	}
}

func (p *Terms) sweepColumns() {
	for j := range p.Col {
		column := make([]float64, len(p.Residual))
		for i := range p.Residual {
			column[i] = p.Residual[i][j]
		}
		m := Median(column)
		for i := range p.Residual {
			p.Residual[i][j] -= m
		}
		p.Col[j] += m
	}
}

func (p *Terms) leftOver() (sum float64) {
	for _, row := range p.Residual {
		for _, r := range row {
			if !math.IsNaN(r) {
				sum += math.Abs(r)
			}
		}
	}
	return sum
}

// Median leaves out what is not a number; of nothing it is 0.
func Median(v []float64) float64 {
	s := make([]float64, 0, len(v))
	for _, x := range v {
		if !math.IsNaN(x) {
			s = append(s, x)
		}
	}
	if len(s) == 0 {
		return 0
	}
	slices.Sort(s)
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}

// BySquares takes a table apart by least squares, with row and column terms that each
// sum to zero: for a table without gaps they are differences of means.
func BySquares(table [][]float64) Terms {
	rows := len(table)
	if rows == 0 {
		return Terms{}
	}
	cols := len(table[0])
	p := Terms{Row: make([]float64, rows), Col: make([]float64, cols), Residual: make([][]float64, rows)}
	x, y := designOf(table)
	var terms mat.VecDense
	if len(y) == 0 || !solveNormal(x, y, &terms) {
		return p
	}
	p.Overall = terms.AtVec(0)
	for i := range rows {
		p.Row[i] = terms.AtVec(1 + i)
	}
	for j := range cols {
		p.Col[j] = terms.AtVec(1 + rows + j)
	}
	for i := range table {
		for j, v := range table[i] {
			p.Residual[i] = append(p.Residual[i], v-p.Overall-p.Row[i]-p.Col[j])
		}
	}
	return p
}

// designOf lists an equation for each value, and the two that make the terms sum to zero.
func designOf(table [][]float64) (x [][]float64, y []float64) {
	rows, cols := len(table), len(table[0])
	zero := func(from, n int) {
		e := make([]float64, 1+rows+cols)
		for i := range n {
			e[from+i] = 1
		}
		x, y = append(x, e), append(y, 0)
	}
	for i := range table {
		for j, v := range table[i] {
			if math.IsNaN(v) {
				continue
			}
			e := make([]float64, 1+rows+cols)
			e[0], e[1+i], e[1+rows+j] = 1, 1, 1
			x, y = append(x, e), append(y, v)
		}
	}
	zero(1, rows)
	zero(1+rows, cols)
	return x, y
}

// solveNormal solves the equations by least squares; of those that leave something open
// it takes the shortest solution.
func solveNormal(x [][]float64, y []float64, terms *mat.VecDense) bool {
	a := mat.NewDense(len(x), len(x[0]), nil)
	for i := range x {
		a.SetRow(i, x[i])
	}
	var svd mat.SVD
	if !svd.Factorize(a, mat.SVDThin) {
		return false
	}
	var solution mat.Dense
	svd.SolveTo(&solution, mat.NewVecDense(len(y), y), svd.Rank(1e-12))
	terms.CloneFromVec(solution.ColView(0))
	return true
}

// Line is the straight line by least squares and the slope's standard deviation.
func Line(x, y []float64) (offset, slope, u float64) {
	if len(x) < 3 {
		return 0, 0, math.Inf(1)
	}
	offset, slope = stat.LinearRegression(x, y, nil, false)
	var left float64
	for i := range x {
		left += math.Pow(y[i]-offset-slope*x[i], 2)
	}
	n := float64(len(x))
	return offset, slope, math.Sqrt(left / (n - 2) / (stat.Variance(x, nil) * (n - 1)))
}
