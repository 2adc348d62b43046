package main

import (
	"fmt"
	"slices"
	"strings"

	"padjig/results/runs"
	"padjig/sequence"
)

// planted is a unit of the demo's lot: what was put into it, and what must
// come of each time it is tested.
type planted struct {
	fault string // in the fault language, empty for a good unit
	later string // the faults left when it is tested again
	wants []want // one for each test
}

// want is what a test must find: no more, no less.
type want struct {
	outcome sequence.Outcome
	what    string   // of the finding of a fail
	key     string   // it is about, if it is about one
	lines   []string // it is about, in any order
}

var passes = want{outcome: sequence.Pass}

func fails(what, key string, lines ...string) want {
	return want{outcome: sequence.Fail, what: what, key: key, lines: lines}
}

// lot is what the demo tests: each kind of fault once, and good units between.
var lot = []planted{
	{wants: []want{passes}},
	{fault: "key 7 open", wants: []want{fails("key open", "7", "R3", "C1")}},
	{fault: "key HEAT high 640 ohm", wants: []want{fails("key high", "HEAT", "R2", "C4")}},
	{fault: "key 5 stuck 60 ohm", wants: []want{fails("key closed at rest", "5", "R2", "C2")}},
	{fault: "lines R1 R2 shorted 5 ohm", wants: []want{fails("lines shorted", "", "R1", "R2")}},
	{wants: []want{passes}},
	{fault: "line R3 broken between 8 and 9", wants: []want{fails("line broken", "", "R3")}},
	{fault: "line C2 open", wants: []want{fails("line open", "", "C2")}},
	{fault: "key OK bounces 14 ms on closing", wants: []want{fails("bounce on make", "OK", "R5", "C4")}},
	{fault: "key CLR releases late 60 ms", wants: []want{fails("releases late", "CLR", "R4", "C1")}},
	{fault: "lines C1 C2 leak 2 Mohm", wants: []want{fails("leak", "", "C1", "C2")}},
	{wants: []want{passes}},
	{fault: "pins 2 7 swapped", wants: []want{fails("lines exchanged", "", "R2", "C2")}},
	{fault: "tail reversed", wants: []want{{outcome: sequence.Reseat}, passes}},
	{fault: "channel 4 dirty 80 ohm", wants: []want{{outcome: sequence.Reseat}, passes}},
	{fault: "jig opens interlock at key 9", wants: []want{{outcome: sequence.Aborted}, passes}},
}

// title is what was planted, for a test of the unit.
func (u planted) title(test int) string {
	switch {
	case u.fault == "":
		return "nothing: a good unit"
	case test > 0:
		return "the same unit, put in again"
	}
	return u.fault
}

// command puts the unit into a simulated jig.
func (u planted) command(test int) string {
	if test > 0 {
		return strings.TrimSpace("reseat " + u.later)
	}
	return strings.TrimSpace("unit " + u.fault)
}

// differs says how a result is not what was wanted, "" when it is.
func (w want) differs(got runs.Stored) string {
	if got.Outcome != w.outcome {
		return fmt.Sprintf("%s, expected %s", got.Outcome, w.outcome)
	}
	if w.what == "" {
		return ""
	}
	if len(got.Findings) != 1 {
		return fmt.Sprintf("%s, expected only %q", count(len(got.Findings), "finding"), w.what)
	}
	f := got.Findings[0]
	if f.What != w.what || w.key != "" && f.Key != w.key || !sameLines(f.Lines, w.lines) {
		return fmt.Sprintf("found %q at %s, expected %q at %s", f.What, f.Place, w.what, strings.Join(w.lines, "-"))
	}
	return ""
}

func sameLines(a, b []string) bool {
	return slices.Equal(slices.Sorted(slices.Values(a)), slices.Sorted(slices.Values(b)))
}
