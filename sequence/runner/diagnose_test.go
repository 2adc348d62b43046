package runner_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/sequence"
	"padjig/sequence/diagnose"
	"padjig/sequence/evidence"
	"padjig/sequence/wording"
)

// Faults planted in a simulated jig, measured through the whole serial path, and then
// diagnosed from the record alone: the likeliest cause has the right kind and place, and
// nothing else is said to be wrong.
func TestPlantedFaultsAreDiagnosed(t *testing.T) {
	for _, c := range []struct {
		product, fault string
		kind           diagnose.Kind
		place          string // a part of it
		found          int    // causes of the best explanation
	}{
		{"gcc-20", "key 7 open", diagnose.ContactMissing, "key 7 (R3-C1)", 1},
		{"gcc-20", "key 7 high 640 ohm", diagnose.ContactDirty, "key 7 (R3-C1)", 1},
		{"gcc-20", "key 7 high 20 kohm", diagnose.ContactWorn, "key 7 (R3-C1)", 1},
		{"gcc-20", "key 7 stuck 80 ohm", diagnose.KeyStuck, "key 7 (R3-C1)", 1},
		{"gcc-20", "key 7 releases late 80 ms", diagnose.KeyStuck, "key 7 (R3-C1)", 1},
		{"gcc-20", "key OK releases late 80 ms", diagnose.KeyStuck, "key OK (R5-C4)", 1},
		{"gcc-20", "key 7 bounces 14 ms on closing", diagnose.DomeCracked, "key 7 (R3-C1)", 1},
		{"gcc-20", "key 7 bounces 14 ms on opening", diagnose.DomeCracked, "key 7 (R3-C1)", 1},
		{"gcc-20", "key 7 drops out 300 us every 5 ms", diagnose.ContactUnsteady, "key 7 (R3-C1)", 1},
		{"gcc-20", "key 7 drops out 12 ms every 16 ms", diagnose.ContactUnsteady, "key 7 (R3-C1)", 1},
		{"gcc-20", "line R3 open", diagnose.LineOpen, "line R3 open between pin 3 and its first key 7", 1},
		{"gcc-20", "line C2 open", diagnose.LineOpen, "line C2 open between pin 7 and its first key >", 1},
		{"gcc-20", "line R3 broken between 7 and 8", diagnose.LineBroken, "line R3 broken between keys 7 and 8, tail side good", 1},
		{"gcc-20", "line C2 broken between 8 and 5", diagnose.LineBroken, "line C2 broken between keys 8 and 5, tail side good", 1},
		{"gcc-20", "line R3 adds 400 ohm after 7", diagnose.LineCracked, "line R3 has more resistance from between keys 7 and 8 on", 1},
		{"gcc-20", "line R3 adds 400 ohm", diagnose.LineCracked, "line R3 has more resistance between pin 3 and its first key 7", 1},
		{"gcc-20", "lines R3 R4 shorted 2 ohm", diagnose.LinesShorted, "between R3 (pin 3) and R4 (pin 4)", 1},
		{"gcc-20", "lines C1 SH shorted 2 ohm", diagnose.ShieldShorted, "between C1 (pin 6) and SH (pin 10)", 1},
		{"gcc-20", "lines R3 C1 shorted 2 ohm", diagnose.CrossingShorted, "between R3 (pin 3) and C1 (pin 6)", 1},
		{"gcc-20", "lines R3 C1 leak 800 kohm", diagnose.SilverGrowing, "between R3 (pin 3) and C1 (pin 6)", 1},
		{"gcc-20", "lines R3 SH leak 5 Mohm", diagnose.SilverGrowing, "between R3 (pin 3) and SH (pin 10)", 1},
		{"gcc-20", "pins 3 5 swapped", diagnose.LinesExchanged, "R5 (pin 5) and R3 (pin 3)", 1},
		{"gcc-20", "pins 3 7 swapped", diagnose.LinesExchanged, "C2 (pin 7) and R3 (pin 3)", 1},
		{"gcc-20", "tail reversed", diagnose.TailReversed, "wrong way round", 1},
		{"gcc-20", "channel 4 dirty 50 ohm", diagnose.PinDoubtful, "pin 4 (R4)", 1},
		{"gcc-20", "channel 4 dirty open", diagnose.PinDoubtful, "pin 4 (R4)", 1},
		{"gcc-20", "actuator of key 7 stuck", diagnose.ContactMissing, "key 7", 1},
		{"gcc-20", "actuator of key 7 stuck down", diagnose.KeyStuck, "key 7", 1},
		{"gcc-20", "jig reference 2 drifted 5 %", diagnose.JigDoubtful, "check resistors", 1},
		{"vent-6", "lines K1 K2 shorted 5 ohm", diagnose.LinesShorted, "between K1 (pin 1) and K2 (pin 2)", 1},
		{"bay-16", "key 6 diode missing", diagnose.ContactMissing, "key 6 (R2-C2)", 1},
		{"bay-16", "key 6 diode reversed", diagnose.DiodeReversed, "key 6 (R2-C2)", 1},
		{"bay-16", "key 6 diode shorted", diagnose.DiodeShorted, "key 6 (R2-C2)", 1},
		{"bay-16", "key 6 high 90 ohm", diagnose.ContactDirty, "key 6 (R2-C2)", 1},
		{"bay-16", "key 6 stuck 5 ohm", diagnose.KeyStuck, "key 6 (R2-C2)", 1},
		{"bay-16", "lines R1 C3 leak 20 Mohm", diagnose.SilverGrowing, "between R1 (pin 6) and C3 (pin 2)", 1},
		{"console-104", "line Y9 open", diagnose.LineOpen, "line Y9", 1},
		{"console-104", "key W high 300 ohm; lines X1 Y16 leak 3 Mohm", diagnose.ContactDirty, "key W (X3-Y3)", 2},
		{"gcc-20", "key 1 open; key 9 high 900 ohm; lines R4 R5 shorted 1 ohm", diagnose.ContactDirty, "key 9", 3},
	} {
		t.Run(strings.ReplaceAll(c.product+" "+c.fault, "/", "_"), func(t *testing.T) {
			p := load(t, c.product)
			run := runInBubble(t, bench{product: p, faults: c.fault, seed: 11})
			d, err := evidence.Diagnose(run, p)
			require.NoError(t, err)
			first, ok := d.First()
			require.True(t, ok, inWords.Sentence(d))
			assert.Equal(t, c.kind, first.Kind, inWords.Sentence(d))
			assert.Contains(t, inWords.Of(first.Place), c.place)
			assert.Equal(t, c.found, d.Found, "%v", d.Groups)
			assert.Empty(t, d.Unexplained)
			assert.NotNil(t, d.Check)
		})
	}
}

// inWords says what a diagnosis says.
var inWords = wording.Words{}.Diagnosis()

// A good unit is told so in one sentence, and no cause is made up.
func TestNothingWrongIsSaidClearly(t *testing.T) {
	for _, name := range []string{"gcc-20", "vent-6", "bay-16", "console-104"} {
		p := load(t, name)
		d, err := evidence.Diagnose(runInBubble(t, bench{product: p, seed: 7}), p)
		require.NoError(t, err)
		assert.Empty(t, d.Groups)
		assert.Nil(t, d.Check)
		assert.Contains(t, inWords.Sentence(d), "Nothing wrong was read")
	}
}

// An electrical press says nothing of keys: what it finds is the jig's and the harness's.
func TestJoinsSpeakOfTheJig(t *testing.T) {
	p := load(t, "gcc-20")
	b := bench{product: p, how: sequence.Electrical, seed: 3}
	run := runInBubble(t, b)
	d, err := evidence.Diagnose(run, p)
	require.NoError(t, err)
	assert.Contains(t, inWords.Sentence(d), "not pressed")
	assert.Empty(t, d.Groups)

	// The simulated jig has no fault that joins would show: as a bad channel would.
	for _, k := range p.Lines[p.Line("R3")].Track {
		run.Findings = append(run.Findings, sequence.Finding{What: "join reads wrong", Key: p.Keys[k].Label})
	}
	d, err = evidence.Diagnose(run, p)
	require.NoError(t, err)
	first, ok := d.First()
	require.True(t, ok, inWords.Sentence(d))
	assert.Equal(t, diagnose.ProbeDirty, first.Kind)
	assert.Contains(t, inWords.Of(first.Place), "R3 (pin 3)")
	assert.Equal(t, 1, d.Found)
}
