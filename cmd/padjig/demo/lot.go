package demo

import (
	"fmt"
	"slices"
	"strings"

	"padjig/cmd/padjig/command"
	"padjig/results/runs"
	"padjig/sequence"
)

// Planted is a unit of the demo's lot: what was put into it, and what must
// come of each time it is tested.
type Planted struct {
	Fault string // in the fault language, empty for a good unit
	Later string // the faults left when it is tested again
	Wants []Want // one for each test
}

// Want is what a test must find: no more, no less.
type Want struct {
	Outcome sequence.Outcome
	what    string   // of the finding of a fail
	Key     string   // it is about, if it is about one
	lines   []string // it is about, in any order
}

var Passes = Want{Outcome: sequence.Pass}

func defect(what, key string, lines ...string) Want {
	return Want{Outcome: sequence.Fail, what: what, Key: key, lines: lines}
}

// Lot is what the demo tests: each kind of fault once, and good units between.
var Lot = []Planted{
	{Wants: []Want{Passes}},
	{Fault: "key 7 open", Wants: []Want{defect("key open", "7", "R3", "C1")}},
	{Fault: "key HEAT high 640 ohm", Wants: []Want{defect("key high", "HEAT", "R2", "C4")}},
	{Fault: "key 5 stuck 60 ohm", Wants: []Want{defect("key closed at rest", "5", "R2", "C2")}},
	{Fault: "lines R1 R2 shorted 5 ohm", Wants: []Want{defect("lines shorted", "", "R1", "R2")}},
	{Wants: []Want{Passes}},
	{Fault: "line R3 broken between 8 and 9", Wants: []Want{defect("line broken", "", "R3")}},
	{Fault: "line C2 open", Wants: []Want{defect("line open", "", "C2")}},
	{Fault: "key OK bounces 14 ms on closing", Wants: []Want{defect("bounce on make", "OK", "R5", "C4")}},
	{Fault: "key CLR releases late 60 ms", Wants: []Want{defect("releases late", "CLR", "R4", "C1")}},
	{Fault: "lines C1 C2 leak 2 Mohm", Wants: []Want{defect("leak", "", "C1", "C2")}},
	{Wants: []Want{Passes}},
	{Fault: "pins 2 7 swapped", Wants: []Want{defect("lines exchanged", "", "R2", "C2")}},
	{Fault: "tail reversed", Wants: []Want{{Outcome: sequence.Reseat}, Passes}},
	{Fault: "channel 4 dirty 80 ohm", Wants: []Want{{Outcome: sequence.Reseat}, Passes}},
	{Fault: "jig opens interlock at key 9", Wants: []Want{{Outcome: sequence.Aborted}, Passes}},
}

// title is what was planted, for a test of the unit.
func (u Planted) title(test int) string {
	switch {
	case u.Fault == "":
		return "nothing: a good unit"
	case test > 0:
		return "the same unit, put in again"
	}
	return u.Fault
}

// command puts the unit into a simulated jig.
func (u Planted) command(test int) string {
	if test > 0 {
		return strings.TrimSpace("reseat " + u.Later)
	}
	return strings.TrimSpace("unit " + u.Fault)
}

// Differs says how a result is not what was wanted, "" when it is.
func (w Want) Differs(got runs.Stored) string {
	if got.Outcome != w.Outcome {
		return fmt.Sprintf("%s, expected %s", got.Outcome, w.Outcome)
	}
	if w.what == "" {
		return ""
	}
	if len(got.Findings) != 1 {
		return fmt.Sprintf("%s, expected only %q", command.Count(len(got.Findings), "finding"), w.what)
	}
	f := got.Findings[0]
	if f.What != w.what || w.Key != "" && f.Key != w.Key || !sameLines(f.Lines, w.lines) {
		return fmt.Sprintf("found %q at %s, expected %q at %s", f.What, f.Place, w.what, strings.Join(w.lines, "-"))
	}
	return ""
}

func sameLines(a, b []string) bool {
	return slices.Equal(slices.Sorted(slices.Values(a)), slices.Sorted(slices.Values(b)))
}
