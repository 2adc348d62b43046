package demo

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/product"
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

// What the line did before lies on real days, each of them, up to now and not beyond; the
// demo goes on with the revision that the line came to.
func TestThePastOfTheDemoLiesOnItsDays(t *testing.T) {
	p, err := product.Parse("gcc-20.yaml", demoProduct)
	require.NoError(t, err)
	for zone, now := range map[string]time.Time{
		"UTC": time.Date(2026, 11, 29, 14, 48, 0, 0, time.UTC), "Europe/Vienna": time.Date(2026, 3, 30, 0, 10, 0, 0, time.UTC), // clocks changed
	} {
		place, err := time.LoadLocation(zone)
		require.NoError(t, err)
		line := pastLine(p, now)
		line.Zone = zone
		entries, err := line.Entries(t.Context())
		require.NoError(t, err)
		days, last, revision := map[string]int{}, time.Time{}, ""
		for e := range entries {
			if e.Run != nil {
				days[e.Run.Started.In(place).Format("2006-01-02")]++
				last, revision = e.Run.Started, e.Revision.Hash
			}
		}
		assert.GreaterOrEqual(t, len(days), pastDays, "%v", days)
		assert.True(t, last.Before(now) && now.Sub(last) < 3*time.Hour, "%v before %v", now.Sub(last), now)
		assert.Equal(t, p.Hash(), revision)
	}
}
