// Package metrics is how a station is doing, for programs that watch it: families of
// figures, and their text as OpenMetrics 1.0 or in the older form of Prometheus.
//
// No serial number and no person is ever a label: a series for each unit would fill the
// memory of whoever keeps them, and who works how fast is not theirs to know.
package metrics

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// The kinds of the texts.
const (
	OpenMetrics = "application/openmetrics-text; version=1.0.0; charset=utf-8"
	Prometheus  = "text/plain; version=0.0.4; charset=utf-8"
)

// Kind is what sort of figures a family has, by the words of OpenMetrics.
type Kind string

// The kinds there are here.
const (
	Counter   Kind = "counter"
	Gauge     Kind = "gauge"
	Histogram Kind = "histogram"
	Info      Kind = "info"
	StateSet  Kind = "stateset"
)

// Family are figures of one name.
type Family struct {
	Name   string // without a suffix; ends in the unit where there is one
	Kind   Kind
	Unit   string
	Help   string
	Labels []string // names of them
	Points []Point
}

// Point is one figure of a family.
type Point struct {
	Labels []string // values, in the order of the names
	Value  float64
	Counts []int64   // of a histogram: how many lay in each class, the last above all bounds
	Bounds []float64 // of the classes
}

// Write gives the text that a program wants, by what it says it accepts.
func Write(families []Family, accept string) (kind string, text []byte) {
	w := writer{open: strings.Contains(accept, "application/openmetrics-text")}
	for _, f := range families {
		w.family(f)
	}
	if !w.open {
		return Prometheus, []byte(w.String())
	}
	w.WriteString("# EOF\n")
	return OpenMetrics, []byte(w.String())
}

type writer struct {
	strings.Builder
	open bool // OpenMetrics
}

// suffix of the samples of a kind that have one name.
var suffix = map[Kind]string{Counter: "_total", Info: "_info"}

func (w *writer) family(f Family) {
	name, kind := f.Name, string(f.Kind)
	if !w.open {
		name += suffix[f.Kind]
		if f.Kind == Info || f.Kind == StateSet {
			kind = string(Gauge)
		}
	}
	fmt.Fprintf(w, "# TYPE %s %s\n", name, kind)
	if w.open && f.Unit != "" {
		fmt.Fprintf(w, "# UNIT %s %s\n", name, f.Unit)
	}
	fmt.Fprintf(w, "# HELP %s %s\n", name, escaped(f.Help))
	for _, p := range f.Points {
		if f.Kind == Histogram {
			w.histogram(f, p)
			continue
		}
		w.sample(f.Name+suffix[f.Kind], f.Labels, p.Labels, number(p.Value))
	}
}

func (w *writer) histogram(f Family, p Point) {
	var below int64
	for i, n := range p.Counts {
		below += n
		bound := math.Inf(1)
		if i < len(p.Bounds) {
			bound = p.Bounds[i]
		}
		w.sample(f.Name+"_bucket", append(f.Labels[:len(f.Labels):len(f.Labels)], "le"),
			append(p.Labels[:len(p.Labels):len(p.Labels)], number(bound)), strconv.FormatInt(below, 10))
	}
	w.sample(f.Name+"_count", f.Labels, p.Labels, strconv.FormatInt(below, 10))
	w.sample(f.Name+"_sum", f.Labels, p.Labels, number(p.Value))
}

func (w *writer) sample(name string, labels, values []string, value string) {
	w.WriteString(name)
	for i, label := range labels {
		w.WriteString(map[bool]string{true: "{", false: ","}[i == 0])
		fmt.Fprintf(w, `%s="%s"`, label, escaped(values[i]))
	}
	if len(labels) > 0 {
		w.WriteString("}")
	}
	w.WriteString(" " + value + "\n")
}

// escaped is a text as both forms want it.
func escaped(text string) string {
	return strings.NewReplacer(`\`, `\\`, "\n", `\n`, `"`, `\"`).Replace(strings.ToValidUTF8(text, "�"))
}

// number writes a whole number as such, others with their digits, as the canonical numbers of
// OpenMetrics are written.
func number(v float64) string {
	switch {
	case math.IsInf(v, 1):
		return "+Inf"
	case v == math.Trunc(v) && math.Abs(v) < 1e15:
		return strconv.FormatFloat(v, 'f', 1, 64)
	}
	return strconv.FormatFloat(v, 'g', -1, 64)
}
