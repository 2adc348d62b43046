package main

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"padjig/results/answers/ratio"
	"padjig/results/report/columns"
)

// part is a section of the page as it was measured.
type part struct {
	name string
	rows []row
}

// row is a line of the page in words, and says by which benchmark it was measured.
type row struct {
	what, ratio, interval, pairs, against, takes, beside string
	not                                                  string // measured, and why; empty: it was
	by                                                   string // benchmark and package
}

// rows are those of a line, one each sub-benchmark.
func rows(l line, m measured) (all []row) {
	by := fmt.Sprintf("`%s` in `%s`", l.of.name, l.of.folder)
	for _, s := range m.subs {
		if l.sub != "" && l.sub != s.name {
			continue
		}
		r := row{what: named(l.what, s.name), against: l.against, by: by}
		if runs, is := s.metrics["runs"]; is { // of a store that is not made each time, and may be another
			r.against += fmt.Sprintf(", %.0f runs", runs)
		}
		summary, compared := ratio.Read(s.metrics, l.ours, l.theirs)
		alone, timed := s.metrics[l.ours+"-ns"]
		switch {
		case compared:
			r.ratio, r.interval = said(summary)
			r.pairs, r.takes, r.beside = strconv.Itoa(summary.Pairs), span(summary.Ours), span(summary.Theirs)
		case timed:
			r.ratio, r.takes = "none", span(time.Duration(alone))
			r.against = strings.Replace(r.against, l.against, "nothing that could be asked the same", 1)
		default:
			r.not = "the benchmark does not tell it"
		}
		all = append(all, r)
	}
	if m.err != nil || len(all) == 0 { // some of its figures may be there; that not all are is said
		r := row{what: named(l.what, "..."), against: l.against, by: by, not: m.not}
		if m.err != nil {
			r.not = "the benchmark failed"
		}
		if r.not == "" {
			r.not = "the benchmark does not tell it"
		}
		all = append(all, r)
	}
	return all
}

// named puts the name of a sub-benchmark in words where {} stands.
func named(what, sub string) string {
	return strings.TrimSpace(strings.ReplaceAll(what, "{}", strings.NewReplacer("/", ", ", "=", " ", "_", " ").Replace(sub)))
}

// said is a ratio and its interval. What scatters too much is no ratio.
func said(s ratio.Summary) (ratio, interval string) {
	ratio, interval = "scatters", number(s.Low)+" to "+number(s.High)
	if math.IsInf(s.High, 1) {
		return "too few", "none"
	}
	if !s.Scatters() {
		ratio = number(s.Ratio)
	}
	return ratio, interval
}

// number writes a ratio with three digits or all before the point, one far below 1 as a part.
func number(v float64) string {
	switch {
	case v <= 0:
		return "0"
	case v < 0.1:
		return "1/" + digits(1/v)
	}
	return digits(v)
}

// digits writes a number from 1 on, or little below.
func digits(v float64) string {
	places := max(0, 2-int(math.Floor(math.Log10(v))))
	return strconv.FormatFloat(v, 'f', min(places, 3), 64)
}

// span writes a time with three digits.
func span(d time.Duration) string {
	for _, unit := range []struct {
		name string
		of   time.Duration
	}{{"s", time.Second}, {"ms", time.Millisecond}, {"us", time.Microsecond}} {
		if d >= unit.of {
			return digits(float64(d)/float64(unit.of)) + " " + unit.name
		}
	}
	return strconv.Itoa(int(d)) + " ns"
}

// head are the columns of the page.
var head = row{what: "what", ratio: "ratio", interval: "95 % interval", pairs: "pairs", against: "against", takes: "takes", beside: "beside", by: "benchmark"}

func (r row) cells() []string {
	if r.not != "" {
		return []string{r.what, "NOT MEASURED: " + r.not, "", "", r.against, "", "", r.by}
	}
	return []string{r.what, r.ratio, r.interval, r.pairs, r.against, r.takes, r.beside, r.by}
}

// text is the page for a terminal.
func text(when string, parts []part) string {
	widths := make([]int, len(head.cells()))
	for _, p := range parts {
		for _, r := range append([]row{head}, p.rows...) {
			for i, cell := range r.cells() {
				if r.not == "" || i != 1 { // what is not measured reaches into the empty columns beside it
					widths[i] = max(widths[i], columns.Width(cell))
				}
			}
		}
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n\n%s\n", when, laidOut(head, widths))
	for _, p := range parts {
		if len(p.rows) > 0 {
			fmt.Fprintf(&b, "\n%s\n", p.name)
		}
		for _, r := range p.rows {
			b.WriteString(laidOut(r, widths) + "\n")
		}
	}
	return strings.ReplaceAll(b.String(), "`", "")
}

// laidOut puts the cells of a row under each other's, but for one that is wider than its column: those behind it make room.
func laidOut(r row, widths []int) string {
	line, at := "", 2
	for i, cell := range r.cells() {
		if cell != "" {
			line = columns.Pad(line, max(at, min(i, 1)*(columns.Width(line)+2))) + cell
		}
		at += widths[i] + 2
	}
	return line
}

// markdown is the page for the docs.
func markdown(when string, parts []part) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n", when)
	for _, p := range parts {
		fmt.Fprintf(&b, "\n## %s\n\n", p.name)
		for i, r := range append([]row{head}, p.rows...) {
			cells := r.cells()
			if r.not != "" {
				cells[1] = "**" + cells[1] + "**"
			}
			fmt.Fprintf(&b, "| %s |\n", strings.Join(cells, " | "))
			if i == 0 {
				b.WriteString("|---|---:|---|---:|---|---:|---:|---|\n")
			}
		}
	}
	return b.String()
}
