package runner_test

import (
	"strings"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/sequence"
)

// Published bounce of assorted switches: 16 of 18 average 1.557 ms and bounce
// 6.2 ms at the most; one of the other two bounced 157 ms on opening (J.
// Ganssle, "A Guide to Debouncing", as quoted; see testdata/bounce). Single
// values are not published: with the longest of the 16 inside the default
// limit of 10 ms, all 16 are. The contacts are simulated to bounce for the
// reported times, and watched at the jig's 20 kHz through the whole protocol.
func TestPublishedBounceAgainstTheDefaultLimit(t *testing.T) {
	for _, c := range []struct {
		fault   string
		outcome sequence.Outcome
	}{
		{"key 7 bounces 1557 us on closing; key 8 bounces 1557 us on opening", sequence.Pass},
		{"key 7 bounces 6.2 ms on closing; key 8 bounces 6.2 ms on opening", sequence.Pass},
		{"key 7 bounces 157 ms on opening", sequence.Fail},
		{"key 7 bounces 14 ms on closing", sequence.Fail}, // a new 6 x 6 mm tactile switch, worst of five
		{"key 7 bounces 9.3 ms on closing", sequence.Pass},
	} {
		t.Run(strings.ReplaceAll(c.fault, " ", "_"), func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				run, _, err := bench{product: load(t, "gcc-20"), faults: c.fault, seed: 5}.run(t)
				require.NoError(t, err)
				assert.Equal(t, c.outcome, run.Outcome, "%v", run.Findings)
				if c.outcome == sequence.Fail {
					require.Len(t, run.Findings, 1, "%v", run.Findings)
					assert.Contains(t, run.Findings[0].String(), "key 7 (R3-C1)")
				}
				t.Log(run.Keys[8].Make, run.Keys[9].Break, run.Findings)
			})
		})
	}
}
