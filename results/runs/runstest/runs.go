// Package runstest has runs to test with.
package runstest

import (
	"crypto/sha256"
	"fmt"
	"math"
	"time"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results/runs"
	"padjig/sequence"
)

// Climate is the keypad of a greenhouse climate controller.
func Climate() runs.Revision { return Defined(`{"code":"GH-20","keys":20}`) }

// Defined is that keypad with a definition of its own, and its hash.
func Defined(definition string) runs.Revision {
	return runs.Revision{
		Code:       "GH-20",
		Title:      "Greenhouse climate controller, 5x4",
		Label:      "C",
		Hash:       fmt.Sprintf("%x", sha256.Sum256([]byte(definition))),
		Definition: []byte(definition),
	}
}

// Of makes it a run of that revision.
func Of(rev runs.Revision, run sequence.Run) sequence.Run {
	run.Hash = rev.Hash
	return run
}

// Passed is a run that passed.
func Passed(serial string) sequence.Run {
	return sequence.Run{
		Serial: serial, Product: "GH-20", Revision: "C", Hash: Climate().Hash,
		Jig:       sequence.JigName{Serial: "J-0007", Model: "PJ-64", Firmware: "1.4.2", Adapter: "A-20"},
		Actuation: sequence.Mechanical,
		Operator:  "Ines",
		Attempt:   1,
		Started:   time.Date(2026, 3, 2, 7, 15, 4, 123456000, time.UTC),
		Duration:  sequence.Seconds(8_421_337 * time.Microsecond),
		Outcome:   sequence.Pass,
		Steps: []sequence.StepDone{
			{Name: "seating", Done: true, Took: sequence.Seconds(61 * time.Millisecond)},
			{Name: "key 1", Done: true, Took: sequence.Seconds(312 * time.Millisecond)},
		},
		Seats: []sequence.Seat{
			{Pin: 1, Line: "R1", Loop: fixture.Resistance{Value: 0.412, U: 0.03}, Good: true},
			{Pin: 2, Loop: fixture.Resistance{Value: 2e6, AtLeast: true}},
		},
		Keys: []sequence.KeyResult{
			{
				Key: "1", Lines: [2]string{"R1", "C1"}, Verdict: sequence.KeyPass,
				Closed: &fixture.Resistance{Value: 118.204, U: 0.35},
				Make:   &fixture.Bounce{Time: 1250 * time.Microsecond, Transitions: 3},
				Break:  &fixture.Bounce{},
			},
			{
				Key: "2", Lines: [2]string{"R1", "C2"}, Verdict: sequence.KeyPass,
				Closed:  &fixture.Resistance{Value: 97.5, U: 0.3},
				Forward: &fixture.Voltage{Value: 0.612345, U: 0.001},
			},
		},
	}
}

// Failed is a run that failed, with findings of several sorts.
func Failed(serial string) sequence.Run {
	run := Passed(serial)
	run.Outcome = sequence.Fail
	run.Keys[0].Verdict = sequence.KeyFail
	run.Keys[0].Closed = &fixture.Resistance{Value: quantity.Open, U: quantity.Open, AtLeast: true}
	run.Keys[0].Make, run.Keys[0].Break = nil, nil
	run.Keys[1] = sequence.KeyResult{Key: "2", Lines: [2]string{"R1", "C2"}, Verdict: sequence.KeyUntested}
	run.Pairs = []sequence.Pair{
		{Lines: [2]string{"R1", "R2"}, Ohm: fixture.Resistance{Value: 3.217, U: 0.02}},
		{Lines: [2]string{"C1", "C2"}, While: "2", Ohm: fixture.Resistance{Value: 9.5e9, U: 1e8, AtLeast: true}},
	}
	run.Findings = []sequence.Finding{
		{
			What: "key open", At: KeyOne, Place: "key 1 (R1-C1)", Key: "1", Lines: []string{"R1", "C1"}, Pins: []int{1, 6},
			Value: new(sequence.Number(math.Inf(1))), Limit: new(sequence.Number(200)), Unit: "ohm",
		},
		{
			What: "short", Place: "lines R1 and R2", Lines: []string{"R1", "R2"}, Pins: []int{1, 2},
			Value: new(sequence.Number(3.2171)), U: new(sequence.Number(0.02)), Limit: new(sequence.Number(1e7)), Unit: "ohm",
		},
		{What: "odd", Place: "nowhere"},
	}
	return run
}

// KeyOne is the place of a finding at the first key.
var KeyOne = sequence.Said{Code: sequence.AtKey, Args: []string{"1", "R1", "C1"}}

// Electrical makes a run one whose keys were joined and not pressed.
func Electrical(run sequence.Run) sequence.Run {
	run.Actuation = sequence.Electrical
	for i := range run.Keys {
		k := &run.Keys[i]
		k.Verdict, k.Closed = sequence.KeyUntested, &fixture.Resistance{Value: 1000, U: 0.5} // the jig's own resistor
		k.Make, k.Break, k.Forward = nil, nil, nil
	}
	if run.Outcome == sequence.Pass {
		run.Outcome, run.Reason = sequence.HarnessGood, sequence.HarnessOnly
		run.Why = sequence.Said{Code: sequence.NoKeyPressed}
	}
	return run
}
