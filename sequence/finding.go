package sequence

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

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

// Findings lists what a finding can be, worst first.
func Findings() []string {
	return slices.SortedFunc(maps.Keys(severity), func(a, b string) int {
		return cmp.Or(cmp.Compare(severity[a], severity[b]), cmp.Compare(a, b))
	})
}

// SortFindings puts the worst first.
func SortFindings(f []Finding) {
	slices.SortStableFunc(f, func(a, b Finding) int { return cmp.Compare(severity[a.What], severity[b.What]) })
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
	return say(float64(*f.Limit), f.Unit)
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
	return say(float64(*f.Value), f.Unit)
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
