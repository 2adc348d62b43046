// Package answerstest has lines whose every run is known, to ask questions of: what an
// answer says is held against a count over the runs themselves.
package answerstest

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results"
	"padjig/results/floor"
	"padjig/results/lines"
	"padjig/results/runs"
	"padjig/sequence"
)

// Begin is when the early shift of the lines begins, 06:00 in Vienna.
var Begin = time.Date(2026, 3, 2, 5, 0, 0, 0, time.UTC)

// Simulated chooses the runs of a line.
var Simulated = lines.Filter{Simulated: true}

// Key is a key as a keypad is defined here; limits of its contact resistance, 0 for none.
type Key struct {
	Label, Group string
	Lines        []string
	Limits       [2]float64
}

// Keys are those of the vent control of a greenhouse: two lines by two.
var Keys = []Key{
	{"1", "", []string{"R1", "C1"}, [2]float64{0, 200}},
	{"2", "", []string{"R1", "C2"}, [2]float64{0, 100}},
	{"3", "", []string{"R2", "C1"}, [2]float64{}},
	{"4", "vents", []string{"R2", "C2"}, [2]float64{10, 130}},
}

// Pad defines a keypad with a guard band of half an expanded uncertainty.
func Pad(code, label string, keys ...Key) runs.Revision {
	type limits struct {
		Closed [2]float64 `json:"closed_ohm"`
		Make   float64    `json:"make_s"`
		Guard  float64    `json:"guard_u"`
	}
	type defined struct {
		Label  string   `json:"label"`
		Group  string   `json:"group"`
		Lines  []string `json:"lines"`
		Limits limits   `json:"limits"`
	}
	var list []defined
	for _, k := range keys {
		list = append(list, defined{k.Label, k.Group, k.Lines, limits{k.Limits, 0.01, 0.5}})
	}
	text, err := json.Marshal(map[string]any{"code": code, "revision": label, "keys": list})
	if err != nil {
		panic(err) // of strings and numbers
	}
	return runs.Revision{Code: code, Title: "Vent control, 2x2", Label: label, Hash: fmt.Sprintf("%x", sha256.Sum256(text)),
		Definition: text}
}

// Vents is the keypad of [Keys].
var Vents = Pad("VC-4", "C", Keys...)

// U is the standard uncertainty of every contact resistance here, in ohm.
const U = 0.5

// Run is a run of a keypad that passed, with the contact resistances of its keys; one
// that is missing or 0 was not measured.
func Run(rev runs.Revision, serial string, at time.Time, ohms ...float64) sequence.Run {
	run := sequence.Run{Serial: serial, Product: rev.Code, Revision: rev.Label, Hash: rev.Hash, Simulated: true,
		Jig:       sequence.JigName{Serial: "J-0041", Model: "simulated jig", Firmware: "1", Adapter: "A-4"},
		Actuation: sequence.Mechanical, Operator: "Ines", Attempt: 1, Started: at, Duration: sequence.Seconds(8 * time.Second),
		Outcome: sequence.Pass, Steps: []sequence.StepDone{{Name: "keys", Done: true, Took: sequence.Seconds(7 * time.Second)}}}
	for i, ohm := range ohms {
		k := sequence.KeyResult{Key: Keys[i].Label, Lines: [2]string(Keys[i].Lines), Verdict: sequence.KeyPass}
		if ohm > 0 {
			k.Closed = &fixture.Resistance{Value: quantity.Ohm(ohm), U: U}
			k.Make = &fixture.Bounce{Time: time.Duration(ohm*10) * time.Microsecond, Transitions: 1}
		}
		run.Keys = append(run.Keys, k)
	}
	return run
}

// Failed makes a run one that failed with a finding at a key, from 0. An open key has
// no reading that is a number.
func Failed(run sequence.Run, what string, key int) sequence.Run {
	k := &run.Keys[key]
	run.Outcome, k.Verdict = sequence.Fail, sequence.KeyFail
	if what == "key open" {
		k.Closed, k.Make = &fixture.Resistance{Value: quantity.Open, U: quantity.Open, AtLeast: true}, nil
	}
	run.Findings = append(run.Findings, sequence.Finding{What: what, Key: k.Key, Lines: k.Lines[:], Pins: []int{1, 3},
		Place: fmt.Sprintf("key %s (%s-%s)", k.Key, k.Lines[0], k.Lines[1]), Unit: "ohm"})
	return run
}

// Ended makes a run one that came to no verdict.
func Ended(run sequence.Run, outcome sequence.Outcome) sequence.Run {
	run.Outcome, run.Reason, run.Steps[0].Done = outcome, "it ended early", false
	for i := range run.Keys {
		run.Keys[i] = sequence.KeyResult{Key: run.Keys[i].Key, Lines: run.Keys[i].Lines, Verdict: sequence.KeyUntested}
	}
	return run
}

// Of is the entry of a run.
func Of(rev runs.Revision, run sequence.Run) results.Entry {
	return results.Entry{At: run.Started.Add(time.Duration(run.Duration)), Run: &run, Revision: &rev}
}

// Store keeps entries, which are in the order of their times.
func Store(t testing.TB, entries ...results.Entry) *results.Store {
	t.Helper()
	s, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "line.sqlite"))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	sent := make(chan results.Entry, len(entries))
	for _, e := range entries {
		sent <- e
	}
	close(sent)
	require.NoError(t, s.ImportSimulated(t.Context(), 1, sent, nil))
	return s
}

// Units is a store of keypads that all passed, one every four minutes, with these
// contact resistances.
func Units(t testing.TB, ohms ...[]float64) *results.Store {
	t.Helper()
	var list []results.Entry
	for i, of := range ohms {
		list = append(list, Of(Vents, Run(Vents, Serial(i), Begin.Add(time.Duration(i)*cycle), of...)))
	}
	return Store(t, list...)
}

const cycle = 4 * time.Minute

// Serial is that of the unit with this number, from 0.
func Serial(i int) string { return fmt.Sprintf("26-%06d", i+1) }

// Shifts are an early and a late one in Vienna.
var Shifts = floor.ShiftPlan{Zone: "Europe/Vienna", By: "Ines", Reason: "two shifts", Shifts: []floor.Shift{
	{Name: "early", Begins: 6 * 60, Ends: 14 * 60}, {Name: "late", Begins: 14 * 60, Ends: 22 * 60}}}

// Line is a line with its runs as they were stored.
type Line struct {
	*results.Store
	Runs []sequence.Run
}

// Units of a day: half of them in each shift.
const DayUnits, ShiftUnits = 240, 120

// What is planted in a day.
const (
	LocalKey   = 2 // from 0: open on J-0042 in every tenth unit there, and nowhere else
	HighKey    = 0 // reads high on J-0041 now and then
	LateBy     = 5 // ohm that key 2 reads more in the late shift
	FirstLot   = "M-1"
	SecondLot  = "M-2" // from the late shift on
	LocalJig   = "J-0042"
	OtherJig   = "J-0041"
	EarlyShift = "early"
	LateShift  = "late"
)

// Day is a line of two jigs over two shifts: units fail, are tested again and seated
// anew; lots change with the shift.
func Day(t testing.TB) Line {
	t.Helper()
	day := &day{rng: rand.New(rand.NewPCG(5, 0))}
	day.put(results.Entry{At: Begin.Add(-time.Hour), Shifts: &Shifts})
	day.lots(Begin.Add(-time.Minute), FirstLot)
	for i := range DayUnits {
		if i == ShiftUnits {
			day.lots(Begin.Add(ShiftUnits*cycle-time.Minute), SecondLot)
		}
		day.unit(i)
	}
	return Line{Store(t, day.entries...), day.runs}
}

// day is a line in the making.
type day struct {
	rng     *rand.Rand
	entries []results.Entry
	runs    []sequence.Run
}

func (d *day) put(e results.Entry) { d.entries = append(d.entries, e) }

func (d *day) lots(at time.Time, membrane string) {
	for _, jig := range []string{OtherJig, LocalJig} {
		d.put(results.Entry{At: at, Lots: &floor.LotChange{Jig: jig, Product: Vents.Code, Simulated: true,
			Lots: floor.Lots{"membrane": membrane}, By: "Ines"}})
	}
}

func (d *day) test(run sequence.Run) {
	d.put(Of(Vents, run))
	d.runs = append(d.runs, run)
}

func (d *day) unit(i int) {
	late := i / ShiftUnits
	ohms := make([]float64, len(Keys))
	for k := range ohms {
		ohms[k] = 60 + 10*float64(k) + 3*d.rng.NormFloat64()
	}
	ohms[1] += LateBy * float64(late)
	one := func(after time.Duration, attempt int) sequence.Run {
		run := Run(Vents, Serial(i), Begin.Add(time.Duration(i)*cycle+after), ohms...)
		run.Jig.Serial = []string{OtherJig, LocalJig}[i%2]
		run.Operator = []string{"Ines", "Ann"}[late]
		run.Attempt = attempt
		return run
	}
	switch {
	case i%20 == 1: // on the local jig
		d.test(Failed(one(0, 1), "key open", LocalKey))
		if late == 0 {
			d.test(one(time.Minute, 2)) // cured
		}
	case i%40 == 6: // on the other
		ohms[HighKey] = 250
		d.test(Failed(one(0, 1), "key high", HighKey))
		if i < 40 {
			d.test(Failed(one(time.Minute, 2), "key high", HighKey))
		}
	case i == 50:
		d.test(one(0, 1))
		d.test(Failed(one(time.Minute, 2), "key open", LocalKey)) // a relapse
	case i == 60 || i == 62 || i == 64:
		how := map[int]sequence.Outcome{60: sequence.Reseat, 62: sequence.Incomplete, 64: sequence.Aborted}[i]
		d.test(Ended(one(0, 1), how))
		d.test(one(time.Minute, 1))
	default:
		d.test(one(0, 1))
	}
}

// First gives each unit's first judged run that keep takes; all for nil.
func (l Line) First(keep func(sequence.Run) bool) (out []sequence.Run) {
	seen := map[string]bool{}
	for _, run := range l.Runs {
		if judged(run) && !seen[run.Serial] {
			if seen[run.Serial] = true; keep == nil || keep(run) {
				out = append(out, run)
			}
		}
	}
	return out
}

func judged(run sequence.Run) bool {
	return run.Outcome == sequence.Pass || run.Outcome == sequence.Fail
}

// Passed counts runs that passed.
func Passed(list []sequence.Run) (n int) {
	for _, run := range list {
		if run.Outcome == sequence.Pass {
			n++
		}
	}
	return n
}

// Contact gives the contact resistances of a key, from 0, that are numbers.
func Contact(list []sequence.Run, key int) (out []float64) {
	for _, run := range list {
		if c := run.Keys[key].Closed; c != nil && !c.AtLeast {
			out = append(out, Stored(float64(c.Value)))
		}
	}
	return out
}

// Stored is a resistance as it is stored, in whole milliohm.
func Stored(ohm float64) float64 { return float64(int64(ohm*1000+0.5)) / 1000 }

// On takes the runs of a jig.
func On(jig string) func(sequence.Run) bool {
	return func(r sequence.Run) bool { return r.Jig.Serial == jig }
}

// By takes the runs of an operator: Ines in the early shift, Ann in the late one.
func By(operator string) func(sequence.Run) bool {
	return func(r sequence.Run) bool { return r.Operator == operator }
}

// Reading is that of a certified resistor, in ohm.
func Reading(resistor string, certified, measured float64) sequence.CalibrationReading {
	return sequence.CalibrationReading{Channel: 1, Mate: 2, Resistor: resistor, Reference: 500, Limit: 0.5, Good: true,
		Certified: fixture.Resistance{Value: quantity.Ohm(certified), U: 0.0025},
		Measured:  fixture.Resistance{Value: quantity.Ohm(measured), U: 0.02},
		Deviation: fixture.Resistance{Value: quantity.Ohm(measured - certified), U: 0.02}}
}
