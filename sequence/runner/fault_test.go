package runner_test

import (
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/jigsim"
	"padjig/sequence"
)

// plantedFaults are faults in units and jigs, and what a run says of each.
var plantedFaults = []struct {
	product, fault string
	outcome        sequence.Outcome
	findings       []string // each a part of one finding, in order
	reason         string
}{
	{"gcc-20", "key 7 open", sequence.Fail, []string{"key open: key 7 (R3-C1)"}, ""},
	{"gcc-20", "key 7 high 640 ohm", sequence.Fail, []string{"key high: key 7 (R3-C1), 6"}, ""},
	{"gcc-20", "key 7 high 20 kohm", sequence.Fail, []string{"key high: key 7 (R3-C1), 20"}, ""},
	{"gcc-20", "key 7 stuck 80 ohm", sequence.Fail, []string{"key closed at rest: key 7 (R3-C1)"}, ""},
	{"gcc-20", "key 7 releases late 80 ms", sequence.Fail, []string{"releases late: key 7 (R3-C1)"}, ""},
	{"gcc-20", "key 7 bounces 14 ms on closing", sequence.Fail, []string{"bounce on make: key 7 (R3-C1)"}, ""},
	{"gcc-20", "key 7 bounces 14 ms on opening", sequence.Fail, []string{"bounce on break: key 7 (R3-C1)"}, ""},
	{"gcc-20", "key 7 drops out 300 us every 5 ms", sequence.Fail, []string{"teases: key 7 (R3-C1), "}, ""},
	{"gcc-20", "key 7 drops out 12 ms every 16 ms", sequence.Fail, []string{"teases: key 7 (R3-C1); open again while held, limit"}, ""},
	{"gcc-20", "line R3 open", sequence.Fail, []string{"line open: line R3 open between pin 3 and its first key"}, ""},
	{"gcc-20", "line C2 open", sequence.Fail, []string{"line open: line C2 open between pin 7"}, ""},
	{"gcc-20", "line R3 broken between 7 and 8", sequence.Fail, []string{"line broken: line R3 broken between keys 7 and 8, tail side good"}, ""},
	{"gcc-20", "line C2 broken between 8 and 5", sequence.Fail, []string{"line broken: line C2 broken between keys 8 and 5"}, ""},
	{"gcc-20", "line R3 adds 400 ohm after 7", sequence.Fail, []string{"line resistance: line R3 has about 400 ohm more between keys 7 and 8"}, ""},
	{"gcc-20", "lines R3 R4 shorted 2 ohm", sequence.Fail, []string{"lines shorted: between R3 (pin 3) and R4 (pin 4), 9.9"}, ""},
	{"gcc-20", "lines C1 SH shorted 2 ohm", sequence.Fail, []string{"lines shorted: between C1 (pin 6) and SH (pin 10), 9.9"}, ""},
	{"gcc-20", "lines R3 C1 shorted 2 ohm", sequence.Fail, []string{"lines shorted: between R3 (pin 3) and C1 (pin 6), "}, ""},
	{"gcc-20", "lines R3 C1 leak 800 kohm", sequence.Fail, []string{"leak: between R3 (pin 3) and C1 (pin 6), 80"}, ""},
	{"gcc-20", "lines R3 SH leak 5 Mohm", sequence.Fail, []string{"leak: between R3 (pin 3) and SH (pin 10), "}, ""},
	{"gcc-20", "pins 3 5 swapped", sequence.Fail, []string{"lines exchanged: R3 (pin 3) and R5 (pin 5) have changed places"}, ""},
	{"gcc-20", "pins 3 7 swapped", sequence.Fail, []string{"lines exchanged: R3 (pin 3) and C2 (pin 7) have changed places"}, ""},
	{"gcc-20", "tail reversed", sequence.Reseat, nil, "wrong way round"},
	{"gcc-20", "tail shifted 1", sequence.Reseat, nil, "1 pin off"},
	{"gcc-20", "channel 4 dirty 50 ohm", sequence.Reseat, nil, "pin 4 (R4)"},
	{"gcc-20", "channel 4 dirty open", sequence.Reseat, nil, "pin 4 (R4)"},
	{"gcc-20", "jig opens interlock at key 7", sequence.Aborted, nil, "interlock"},
	{"gcc-20", "jig emergency at key 7", sequence.Aborted, nil, "emergency stop"},
	{"gcc-20", "jig silent at key 7", sequence.Aborted, nil, "keys"},
	{"gcc-20", "jig reboots at key 7", sequence.Aborted, nil, "keys"},
	{"gcc-20", "jig noisy 2e-4", sequence.Pass, nil, ""},
	{"gcc-20", "actuator of key 7 stuck", sequence.Fail, []string{"key open: key 7"}, ""},
	{"vent-6", "lines K1 K2 shorted 5 ohm", sequence.Fail, []string{"lines shorted: between K1 (pin 1) and K2 (pin 2)"}, ""},
	{"bay-16", "key 6 diode missing", sequence.Fail, []string{"key open: key 6"}, ""},
	{"bay-16", "key 6 diode reversed", sequence.Fail, []string{"diode reversed: key 6"}, ""},
	{"bay-16", "key 6 diode shorted", sequence.Fail, []string{"diode shorted: key 6"}, ""},
	{"bay-16", "key 6 high 90 ohm", sequence.Fail, []string{"key high: key 6 (R2-C2), 9"}, ""},
	{"bay-16", "key 6 stuck 5 ohm", sequence.Fail, []string{"key closed at rest: key 6"}, ""},
	{"bay-16", "lines R1 C3 leak 20 Mohm", sequence.Fail, []string{"leak: between R1"}, ""},
	{"console-104", "line Y9 open", sequence.Fail, []string{"line open: line Y9"}, ""},
	{"console-104", "key W high 300 ohm; lines X1 Y16 leak 3 Mohm", sequence.Fail, []string{"key high: key W", "leak: between X1"}, ""},
	{"gcc-20", "key 1 open; key 9 high 900 ohm; lines R4 R5 shorted 1 ohm", sequence.Fail,
		[]string{"lines shorted: between R4", "key open: key 1", "key high: key 9"}, ""},
}

// Each planted fault must be found, named, and put in its place; and nothing
// else may be said of the unit.
func TestPlantedFaultsAreFoundInTheirPlace(t *testing.T) {
	for _, c := range plantedFaults {
		t.Run(strings.ReplaceAll(c.product+" "+c.fault, "/", "_"), func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				run, _, err := bench{product: load(t, c.product), faults: c.fault, seed: 11}.run(t)
				said := fmt.Sprintf("%s %v", run.Reason, run.Findings)
				require.Equal(t, c.outcome, run.Outcome, said)
				assert.Equal(t, c.outcome == sequence.Aborted, err != nil, "%v", err)
				assert.Contains(t, run.Reason, c.reason)
				if assert.Len(t, run.Findings, len(c.findings), said) {
					for i, want := range c.findings {
						assert.Contains(t, run.Findings[i].String(), want)
					}
				}
				t.Log(time.Duration(run.Duration), said)
			})
		})
	}
}

// While a reading at rest is on its way to the host, the jig may have begun to
// press the first key. What is looked for at rest must wait until it is up again.
func TestRecoveryWaitsForTheKeyThatWasBegun(t *testing.T) {
	id := jigsim.Defaults()
	id.TravelUpUs = 2_000_000 // slow to rise: what is read too soon sees the key
	for _, latency := range []time.Duration{0, 5 * time.Millisecond, 16 * time.Millisecond, 40 * time.Millisecond} {
		synctest.Test(t, func(t *testing.T) {
			b := bench{product: load(t, "gcc-20"), id: id, faults: "lines C1 C2 leak 2 Mohm", latency: latency}
			run, _, err := b.run(t)
			require.NoError(t, err)
			require.Len(t, run.Findings, 1, "%v: %v", latency, run.Findings)
			assert.Contains(t, run.Findings[0].String(), "leak: between C1")
		})
	}
}
