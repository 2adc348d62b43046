package report

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"padjig/results/answers/charts"
)

const (
	plotHigh   = 13 // rows of the first panel
	secondHigh = 7
)

// textPlot draws points and limits with characters, several points a column
// where there are more points than columns: • a point, ◆ one that signals,
// ┄ the limits, ─ the centre. Letters below mark what happened.
func textPlot(p charts.Panel, marks []charts.Event, wide int, unit string, first bool) string {
	high := plotHigh
	if !first {
		high = secondHigh
	}
	from, to := span(p)
	place := plotDigits(p)
	label := func(v float64) string { return strconv.FormatFloat(v, 'f', place, 64) }
	left := max(utf8.RuneCountInString(label(from)), utf8.RuneCountInString(label(to))) + 1
	columns := max(10, min(wide-left-3, len(p.Points)))
	g := newGrid(high, columns)
	row := func(v float64) int {
		return int(math.Round(float64(high-1) * (to - min(max(v, from), to)) / (to - from)))
	}
	at := func(i int) int { return i * columns / max(len(p.Points), 1) }
	for i, q := range p.Points {
		g.set(row(q.Limits.Upper), at(i), '┄')
		g.set(row(q.Limits.Lower), at(i), '┄')
		g.set(row(q.Limits.Center), at(i), '─')
	}
	for i, q := range p.Points {
		g.set(row(q.Value), at(i), '•')
	}
	for i, q := range p.Points {
		if len(q.Signals) > 0 {
			g.set(row(q.Value), at(i), '◆')
		}
	}
	var b strings.Builder
	title := word(terminal, "panel."+p.Code)
	if unit != "" {
		title += ", " + unit
	}
	fmt.Fprintf(&b, "%s\n", wrapped("", title, wide))
	for y, line := range g {
		text := ""
		if y%3 == 0 || y == high-1 {
			text = label(to - (to-from)*float64(y)/float64(high-1))
		}
		fmt.Fprintf(&b, " %*s ┤%s\n", left-1, text, strings.TrimRight(string(line), " "))
	}
	if first {
		b.WriteString(markLine(marks, left, columns, at))
	}
	return b.String()
}

func markLine(marks []charts.Event, left, columns int, at func(int) int) string {
	line := []rune(strings.Repeat(" ", columns))
	any := false
	for _, m := range marks {
		letter := []rune(m.Mark)
		if x := at(m.Before); x+len(letter) <= columns && free(line[x:x+len(letter)]) {
			copy(line[x:], letter)
			any = true
		}
	}
	if !any {
		return ""
	}
	return strings.Repeat(" ", left+2) + strings.TrimRight(string(line), " ") + "\n"
}

func free(cells []rune) bool {
	return !slices.ContainsFunc(cells, func(c rune) bool { return c != ' ' })
}

func span(p charts.Panel) (from, to float64) {
	from, to = math.Inf(1), math.Inf(-1)
	for _, q := range p.Points {
		for _, v := range []float64{q.Value, q.Limits.Lower, q.Limits.Upper} {
			from, to = min(from, v), max(to, v)
		}
	}
	if from == to {
		return from - 1, to + 1
	}
	return from, to
}

// plotDigits are as many as the width of the limits leaves meaning to.
func plotDigits(p charts.Panel) int {
	return digits(charts.Chart{Panels: []charts.Panel{p}})
}

type grid [][]rune

func newGrid(high, wide int) grid {
	g := make(grid, high)
	for y := range g {
		g[y] = []rune(strings.Repeat(" ", wide))
	}
	return g
}

func (g grid) set(y, x int, mark rune) { g[y][x] = mark }
