package cfx

import (
	"encoding/json"
	"os"
	"regexp"
	"testing"
	"time"

	"github.com/google/jsonschema-go/jsonschema"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/product"
)

// pad is the keypad of a climate controller, and a run over it.
func pad(t *testing.T) (*product.Product, runs.Stored) {
	t.Helper()
	p, err := product.Load("../../../testdata/products/gcc-20.yaml")
	require.NoError(t, err)
	run := sequence.Run{
		Serial: "GCC-000001-3", Product: p.Code, Revision: p.Revision, Outcome: sequence.Pass, Actuation: sequence.Mechanical, Operator: "Ana",
		Started: time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC), Duration: sequence.Seconds(5 * time.Second),
		Jig: sequence.JigName{Serial: "J-0042", Model: "PJ-2"},
	}
	for _, k := range p.Keys {
		run.Keys = append(run.Keys, sequence.KeyResult{
			Key: k.Label, Verdict: sequence.KeyPass, Closed: &fixture.Resistance{Value: 60, U: 0.5},
			Make: &fixture.Bounce{Time: 400 * time.Microsecond, Transitions: 2}, Break: &fixture.Bounce{},
		})
	}
	id := store.MakeID(1_772_434_800_000, 7, 9)
	return p, runs.Stored{ID: id, Seq: 1, Run: run}
}

func schema(t *testing.T) func([]byte) error {
	t.Helper()
	text, err := os.ReadFile("testdata/units-tested.schema.json")
	require.NoError(t, err)
	var s jsonschema.Schema
	require.NoError(t, json.Unmarshal(text, &s))
	resolved, err := s.Resolve(nil)
	require.NoError(t, err)
	return func(text []byte) error {
		var o any
		require.NoError(t, json.Unmarshal(text, &o))
		return resolved.Validate(o)
	}
}

func message(t *testing.T, run runs.Stored, p *product.Product) (Message, []byte) {
	t.Helper()
	m, err := Of(run, p, Source(run.Jig))
	require.NoError(t, err)
	text, err := m.Text()
	require.NoError(t, err)
	return m, text
}

// Every run that the standard has words for is a message by the schema, whatever came of it.
func TestMessagesKeepToTheSchema(t *testing.T) {
	check := schema(t)
	p, run := pad(t)
	for outcome, want := range overall {
		run.Outcome, run.Findings = outcome, nil
		run.Keys[2] = sequence.KeyResult{Key: p.Keys[2].Label, Verdict: sequence.KeyUntested}
		run.Keys[3].Closed = &fixture.Resistance{Value: quantity.Open, U: quantity.Open, AtLeast: true}
		if outcome == sequence.Fail {
			run.Keys[3].Verdict = sequence.KeyFail
			run.Findings = []sequence.Finding{
				{What: "key open", Key: p.Keys[3].Label, Place: "key 4 <R1-C4>", Unit: "ohm"}, {What: "lines connected", Place: "R1 to C2", Unit: "ohm"},
			}
		}
		m, text := message(t, run, p)
		assert.NoError(t, check(text), "%s", outcome)
		assert.Equal(t, want, m.MessageBody.TestedUnits[0].OverallResult)
		_, again := message(t, run, p)
		assert.Equal(t, string(text), string(again), "a message that is made again is the same one")
	}
	run.Actuation, run.Operator = sequence.Hand, ""
	m, text := message(t, run, p)
	assert.NoError(t, check(text))
	assert.Equal(t, "Human", m.MessageBody.TestMethod)
	assert.Nil(t, m.MessageBody.Tester)
}

// What the schema refuses, so that it means something.
func TestSchemaRefuses(t *testing.T) {
	check := schema(t)
	p, run := pad(t)
	_, text := message(t, run, p)
	unit := func(m map[string]any) map[string]any {
		return m["MessageBody"].(map[string]any)["TestedUnits"].([]any)[0].(map[string]any)
	}
	for name, spoil := range map[string]func(map[string]any){
		"no unit id":   func(m map[string]any) { delete(unit(m), "UnitIdentifier") },
		"own word":     func(m map[string]any) { unit(m)["OverallResult"] = "pass" },
		"own member":   func(m map[string]any) { unit(m)["Uncertainty"] = 1 },
		"another name": func(m map[string]any) { m["MessageName"] = "CFX.Production.TestAndInspection.UnitsInspected" },
		"no time":      func(m map[string]any) { m["TimeStamp"] = "yesterday" },
		"number as text": func(m map[string]any) {
			first := unit(m)["Tests"].([]any)[0].(map[string]any)["Measurements"].([]any)[0].(map[string]any)
			first["MeasuredValue"].(map[string]any)["Value"] = "60"
		},
	} {
		var m map[string]any
		require.NoError(t, json.Unmarshal(text, &m))
		require.NoError(t, check(text))
		spoil(m)
		spoilt, err := json.Marshal(m)
		require.NoError(t, err)
		assert.Error(t, check(spoilt), name)
	}
}

// A pass has nothing in it that failed, a fail says where, and each reading stands with its limits.
func TestWhatAMessageSays(t *testing.T) {
	p, run := pad(t)
	m, _ := message(t, run, p)
	u := m.MessageBody.TestedUnits[0]
	require.Len(t, u.Tests, len(p.Keys)+1)
	seen := map[string]bool{}
	for _, test := range u.Tests {
		assert.Equal(t, passed, test.Result)
		require.False(t, seen[test.UniqueIdentifier])
		seen[test.UniqueIdentifier] = true
		for _, r := range test.Measurements {
			assert.Equal(t, passed, r.Result)
			require.False(t, seen[r.UniqueIdentifier])
			seen[r.UniqueIdentifier] = true
		}
	}
	first := u.Tests[0].Measurements[0]
	assert.Equal(t, "key "+p.Keys[0].Label+" contact resistance", first.MeasurementName)
	assert.Equal(t, 60.0, first.MeasuredValue.Value)
	assert.Equal(t, "Ohm", first.MeasuredValue.ValueUnits)
	assert.Equal(t, float64(p.Keys[0].Limits.ClosedMax), *first.MeasuredValue.MaximumAcceptableValue)
	assert.InDelta(t, 0.0004, u.Tests[0].Measurements[1].MeasuredValue.Value, 1e-12)
	assert.Equal(t, time.Date(2026, 3, 2, 7, 0, 5, 0, time.UTC), m.TimeStamp)
	assert.Equal(t, "padjig.PJ-2.J-0042", m.Source)

	run.Outcome, run.Keys[4].Verdict = sequence.Fail, sequence.KeyFail
	run.Findings = []sequence.Finding{{What: "second contact", Key: p.Keys[4].Label, Unit: "ohm"}, {What: "bounce on make", Key: p.Keys[4].Label, Place: "key 5", Unit: "ms"}}
	m, _ = message(t, run, p)
	test := m.MessageBody.TestedUnits[0].Tests[4]
	assert.Equal(t, failed, test.Result)
	assert.Equal(t, []string{passed, failed, passed}, []string{test.Measurements[0].Result, test.Measurements[1].Result, test.Measurements[2].Result})
	assert.Equal(t, "second contact", test.SymptomsFound[0].SymptomCode, "which is no reading of the contact")
	assert.Equal(t, passed, m.MessageBody.TestedUnits[0].Tests[3].Result)
}

// The findings that a measurement can be failed by are such as there are.
func TestFaultsAreFindings(t *testing.T) {
	text, err := os.ReadFile("message.go")
	require.NoError(t, err)
	named := regexp.MustCompile(`"((?:key|contact|diode|bounce) (?:high|low|unsteady|drop|reversed|shorted|on make|on break))"`).FindAllStringSubmatch(string(text), -1)
	require.Len(t, named, 8+1) // the name of a measurement is one of them
	for _, one := range named {
		assert.Contains(t, sequence.Findings(), one[1])
	}
}

// What the standard has no word for is not published as something else.
func TestNotPublished(t *testing.T) {
	p, run := pad(t)
	for _, o := range []sequence.Outcome{sequence.HarnessGood, sequence.NothingFound} {
		run.Outcome = o
		_, err := Of(run, p, "x")
		assert.ErrorIs(t, err, ErrNoVerdict)
	}
	run.Outcome = sequence.Pass
	for _, purpose := range []sequence.Purpose{sequence.GaugeStudy, sequence.FirstPress, sequence.Engineering} {
		run.Purpose = purpose
		_, err := Of(run, p, "x")
		assert.ErrorIs(t, err, ErrPurpose)
	}
}
