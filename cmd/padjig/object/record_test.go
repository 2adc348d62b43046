package object

import (
	"bytes"
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/runs"
	"padjig/results/runs/runstest"
	"padjig/sequence"
)

// A key that never closed has a value that is infinite: it is printed like any other.
func TestWhatIsInfiniteIsPrinted(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, Print(&b, RunOf(runs.Stored{Run: runstest.Failed("24-000001")})))
	assert.True(t, json.Valid(b.Bytes()))
	assert.Contains(t, b.String(), `"value": null`)
}

// What is empty is a list all the same, and labels stay as they are.
func TestARunPrintsListsAndLabels(t *testing.T) {
	var b bytes.Buffer
	run := sequence.Run{Started: runstest.Passed("").Started, Findings: []sequence.Finding{{What: "key open", Key: "<", At: sequence.Fact(sequence.AtKey, "<", "R1", "C1")}}}
	require.NoError(t, Print(&b, RunOf(runs.Stored{Run: run})))
	for _, want := range []string{`"keys": []`, `"pairs": []`, `"steps": []`, `"seating": []`, `"lines": []`, `"pins": []`, "\"<\",\n        \"R1\""} {
		assert.Contains(t, b.String(), want)
	}
	assert.NotContains(t, b.String(), `\u003c`)
	require.Nil(t, run.Findings[0].Lines, "the run is as it was")
}
