package sequence

import (
	"fmt"
	"maps"
	"slices"
	"sort"
	"strconv"
	"time"

	"padjig/fixture"
	"padjig/fixture/quantity"
)

// severity orders findings, worst and most telling first; it is also the list
// of all findings there are.
var severity = map[string]int{
	"tail reversed": 0, "lines exchanged": 1,
	"lines shorted": 2, "line open": 3, "line broken": 4, "line resistance": 5,
	"key closed at rest": 6, "key stays closed": 7, "key open": 8, "second contact": 9, "ghost key": 10,
	"diode reversed": 11, "diode shorted": 12, "diode drop": 13,
	"key high": 14, "key low": 15, "contact unsteady": 16, "teases": 16, "misses": 16, "drops out": 16, "join reads wrong": 17, "releases late": 18, "sticks": 18,
	"bounce on make": 19, "bounce on break": 20, "leak": 21,
}

// Findings lists what a finding can be.
func Findings() []string { return slices.Sorted(maps.Keys(severity)) }

func sortFindings(f []Finding) {
	sort.SliceStable(f, func(i, j int) bool { return severity[f[i].What] < severity[f[j].What] })
}

// String is the finding as the record has it, in one line. What people read is said by
// the catalogue.
func (f Finding) String() string {
	text := f.What + ": " + f.Place
	if reading := f.Reading(); reading != "" {
		text += ", " + reading
	}
	if bound := f.Bound(); bound != "" {
		text += ", limit " + bound
	}
	return text
}

// Bound is the limit with its unit, empty where there is none.
func (f Finding) Bound() string {
	if f.Limit == nil {
		return ""
	}
	return say(*f.Limit, f.Unit)
}

// Reading is the value, with its expanded uncertainty where it is a resistance; empty
// where there is none.
func (f Finding) Reading() string {
	if f.Value == nil {
		return ""
	}
	if f.Unit == "ohm" && f.U != nil && *f.U > 0 {
		return fixture.Resistance{Value: quantity.Ohm(*f.Value), U: quantity.Ohm(*f.U)}.String()
	}
	return say(*f.Value, f.Unit)
}

func say(v float64, unit string) string {
	switch unit {
	case "ohm":
		return quantity.Ohm(v).String()
	case "V":
		return quantity.Volt(v).String()
	}
	return fmt.Sprintf("%.4g %s", v, unit)
}

// amount fills in value, uncertainty, limit and unit of a finding.
type amount func(*Finding)

func nothing(*Finding) {}

func ohms(r fixture.Resistance, limit quantity.Ohm) amount {
	return func(f *Finding) { f.measured(r, limit) }
}

func volts(v fixture.Voltage, limit quantity.Volt) amount {
	return func(f *Finding) { f.set(float64(v.Value), float64(v.U), float64(limit), "V") }
}

func millis(d, limit time.Duration) amount {
	return func(f *Finding) {
		ms := func(d time.Duration) float64 { return float64(d) / float64(time.Millisecond) }
		f.set(ms(d), 0, ms(limit), "ms")
	}
}

// measured sets a resistance. A reading beyond the range has no value, which
// says "open" better than a number would.
func (f *Finding) measured(r fixture.Resistance, limit quantity.Ohm) {
	l := float64(limit)
	f.Limit, f.Unit = &l, "ohm"
	if !r.AtLeast {
		v, u := float64(r.Value), float64(r.U)
		f.Value, f.U = &v, &u
	}
}

func (f *Finding) set(value, u, limit float64, unit string) {
	f.Value, f.U, f.Limit, f.Unit = &value, &u, &limit, unit
}

// fail adds a finding about one key.
func (r *runner) fail(k int, what string, a amount) {
	key := r.plan.Product.Keys[k]
	f := r.finding(what, r.atKey(AtKey, k), key.A, key.B)
	f.Key = key.Label
	a(&f)
	r.run.Keys[k].Verdict = KeyFail
	r.run.Findings = append(r.run.Findings, f)
}

// finding starts a finding about some lines.
func (r *runner) finding(what string, at Said, lines ...int) Finding {
	f := Finding{What: what, At: at, Place: plainly(at)}
	for _, l := range lines {
		f.Lines = append(f.Lines, r.plan.Product.Lines[l].Name)
		f.Pins = append(f.Pins, r.plan.Product.Lines[l].Pin)
	}
	return f
}

// place says where a key is.
func (r *runner) place(k int) string { return plainly(r.atKey(AtKey, k)) }

// atKey is a place that ends with a key and its lines.
func (r *runner) atKey(code Code, k int, before ...string) Said {
	key := r.plan.Product.Keys[k]
	n := r.names(key.A, key.B)
	return said(code, append(before, key.Label, n[0], n[1])...)
}

// atLines is a place that begins with two lines and their pins.
func (r *runner) atLines(code Code, a, b int) Said {
	l := r.plan.Product.Lines
	return said(code, l[a].Name, strconv.Itoa(l[a].Pin), l[b].Name, strconv.Itoa(l[b].Pin))
}

func (r *runner) names(a, b int) [2]string {
	return [2]string{r.plan.Product.Lines[a].Name, r.plan.Product.Lines[b].Name}
}

func (r *runner) line(l int) string {
	return fmt.Sprintf("%s (pin %d)", r.plan.Product.Lines[l].Name, r.plan.Product.Lines[l].Pin)
}

// drop removes the findings of one kind about keys that a wider cause explains.
func (r *runner) drop(what string, keys map[int]bool) {
	labels := map[string]bool{}
	for k := range keys {
		labels[r.plan.Product.Keys[k].Label] = true
	}
	kept := r.run.Findings[:0]
	for _, f := range r.run.Findings {
		if f.What != what || !labels[f.Key] {
			kept = append(kept, f)
		}
	}
	r.run.Findings = kept
}
