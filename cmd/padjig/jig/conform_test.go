package jig

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/object"
	"padjig/fixture/jigtest"
)

// A case that did not come out at once says so wherever the report is read.
func TestConformanceReportSaysWhatWasTriedAgain(t *testing.T) {
	c := jigtest.Case{Chapter: "requests", Name: "tag copied", Rule: "it is copied into the reply"}
	report := jigtest.Report{Findings: []jigtest.Finding{
		{Case: c, Outcome: jigtest.Kept, Took: time.Second},
		{Case: c, Outcome: jigtest.Kept, Earlier: []string{"no reply to a status request, but later: state"}},
		{Case: c, Outcome: jigtest.Kept, Again: []string{"hello was said 2 times before it was answered"}},
	}}
	var text bytes.Buffer
	printConform(terminal.Of(&text), report)
	said := strings.Join(strings.Fields(text.String()), " ")
	assert.Contains(t, said, "passed at the 2nd try; at the 1st: no reply to a status request, but later: state")
	assert.Contains(t, said, "hello was said 2 times before it was answered")
	assert.Contains(t, said, "3 kept, 0 broken, 0 omitted; 2 not at once")
	assert.Equal(t, 1, strings.Count(said, "try"))

	text.Reset()
	require.NoError(t, object.Print(&text, object.ConformanceOf(report)))
	var seen object.Conformance
	require.NoError(t, json.Unmarshal(text.Bytes(), &seen))
	assert.Equal(t, 2, seen.Retried)
	assert.Equal(t, []int{1, 2, 1}, command.Each(seen.Cases, func(c object.ConformanceCase) int { return c.Try }))
	assert.Equal(t, report.Findings[1].Earlier, seen.Cases[1].Earlier)
	assert.Equal(t, report.Findings[2].Again, seen.Cases[2].Again)
	assert.Equal(t, 1, strings.Count(text.String(), `"earlier"`), "only where there is something to say")
}
