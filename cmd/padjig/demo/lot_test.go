package demo

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/results/runs"
	"padjig/sequence"
)

// TestDemoNoticesWhatIsNotAsPlanted: a demo that cannot fail shows nothing.
func TestDemoNoticesWhatIsNotAsPlanted(t *testing.T) {
	wanted := defect("key open", "7", "R3", "C1")
	open := sequence.Finding{What: "key open", Key: "7", Lines: []string{"C1", "R3"}}
	ran := func(outcome sequence.Outcome, findings ...sequence.Finding) runs.Stored {
		return runs.Stored{Run: sequence.Run{Outcome: outcome, Findings: findings}}
	}
	assert.Empty(t, wanted.Differs(ran(sequence.Fail, open)))

	elsewhere, other, swapped := open, open, open
	elsewhere.Key = "8"
	other.What = "key high"
	swapped.Lines = []string{"C1", "R2"}
	for name, got := range map[string]runs.Stored{
		"passed":           ran(sequence.Pass),
		"reseat":           ran(sequence.Reseat),
		"nothing found":    ran(sequence.Fail),
		"another key":      ran(sequence.Fail, elsewhere),
		"another fault":    ran(sequence.Fail, other),
		"another line":     ran(sequence.Fail, swapped),
		"one fault beside": ran(sequence.Fail, open, other),
	} {
		assert.NotEmpty(t, wanted.Differs(got), name)
	}
	assert.NotEmpty(t, Passes.Differs(ran(sequence.Fail, open)))
}
