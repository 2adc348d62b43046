package testrun

import (
	"bytes"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/command/terminal"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/runner"
)

// shown is what a terminal shows after it was sent text with the few ways of
// moving the cursor that padjig uses.
func shown(t *testing.T, sent string) string {
	t.Helper()
	up := regexp.MustCompile(`^\x1b\[(\d+)A\r\x1b\[J`)
	lines := []string{""}
	for sent != "" {
		if m := up.FindStringSubmatch(sent); m != nil {
			n, err := strconv.Atoi(m[1])
			require.NoError(t, err)
			require.Less(t, n, len(lines), "the cursor went above the top")
			require.Empty(t, lines[len(lines)-1])
			lines = append(lines[:len(lines)-1-n], "")
			sent = sent[len(m[0]):]
			continue
		}
		if sent[0] == '\n' {
			lines = append(lines, "")
		} else {
			lines[len(lines)-1] += sent[:1]
		}
		sent = sent[1:]
	}
	return strings.Join(lines, "\n")
}

// On a terminal what a person is asked stands below the keys and goes when it no
// longer holds; written to a file every press is a line with what comes next.
func TestPromptsOnATerminal(t *testing.T) {
	p, err := product.Load("../../../../testdata/products/vent-6.yaml")
	require.NoError(t, err)
	plan := &runner.Plan{Product: p, Actuation: sequence.Hand}
	step := sequence.Step{Name: "keys by hand"}
	news := []struct {
		sequence.Progress
		shows, not string // on a terminal, then
	}{
		{sequence.Progress{Step: step, Total: 6, Prompt: "press each key once", Ask: sequence.Ask{Code: sequence.AskEachKey}}, "press each key once", "let go"},
		{sequence.Progress{Step: step, Total: 6, Prompt: "RIDGE+: let go", Ask: sequence.Ask{Code: sequence.AskLetGo, Keys: []string{"RIDGE+"}}}, "RIDGE+: let go", "press each key once"},
		{sequence.Progress{Step: step, Done: 1, Total: 6, Key: &sequence.KeyResult{Key: "RIDGE+", Verdict: sequence.KeyPass}, Prompt: "next: SIDE+",
			Ask: sequence.Ask{Code: sequence.AskNext, Keys: []string{"SIDE+"}}}, "next: SIDE+", "let go"},
		{sequence.Progress{Step: step, Done: 1, Total: 6, Prompt: "ALL and STOP pressed together: let go, and press one at a time",
			Ask: sequence.Ask{Code: sequence.AskOne}}, "pressed together", "next:"},
		{sequence.Progress{Step: step, Done: 1, Total: 6, Prompt: "next: SIDE+", Ask: sequence.Ask{Code: sequence.AskNext}}, "1 of 6", "pressed together"},
		{sequence.Progress{Step: step, Done: 6, Total: 6, Key: &sequence.KeyResult{Key: "STOP", Verdict: sequence.KeyPass}, Prompt: "hands off",
			Ask: sequence.Ask{Code: sequence.AskHandsOff}}, "hands off", "next:"},
		{sequence.Progress{Step: sequence.Step{Name: "rest again"}}, "rest again", "hands off"},
	}
	for _, colour := range []bool{false, true} {
		var sent, file, objects bytes.Buffer
		live := &progress{Terminal: terminal.Terminal{Writer: &sent, Live: true, Colour: colour, Wide: 60, High: 40}}
		plain := &progress{Terminal: terminal.Terminal{Writer: &file, Wide: 80}}
		only := PromptsOnly{terminal.Terminal{Writer: &objects, Wide: 80}}
		live.Begin(plan, sequence.Unit{Serial: "V6-00001-C", Attempt: 1}, 2)
		plain.Begin(plan, sequence.Unit{Serial: "V6-00001-C", Attempt: 1}, 2)
		for _, n := range news {
			live.Step(n.Progress)
			plain.Step(n.Progress)
			only.Step(n.Progress)
			assert.Contains(t, shown(t, sent.String()), n.shows)
			assert.NotContains(t, shown(t, sent.String()), n.not)
		}
		assert.Contains(t, file.String(), "RIDGE+, 1 of 6, next: SIDE+\n")
		assert.Contains(t, objects.String(), "RIDGE+: let go\n1 of 6, next: SIDE+\n")
		assert.Contains(t, objects.String(), "6 of 6, hands off\n")
	}
}
