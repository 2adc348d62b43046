package runner_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/sequence"
)

// A key that opens while one of the next keys is pressed, or a later one, closes nothing
// but itself: it is found at its place, and at no other, as long as it is open by the time the
// run looks again at what touched.
func TestAKeyThatOpensLateIsFoundAtItsPlace(t *testing.T) {
	for _, name := range []string{"gcc-20", "vent-6", "bay-16"} {
		p := load(t, name)
		for late := 60; late <= 460; late += 80 {
			run := runInBubble(t, bench{product: p, faults: fmt.Sprintf("key %s releases late %d ms", p.Keys[1].Label, late), seed: 3, unpaced: true})
			assert.Equal(t, sequence.Fail, run.Outcome, "%s, %d ms: %s", name, late, run.Reason)
			for _, f := range run.Findings {
				assert.Contains(t, []string{p.Keys[1].Label, ""}, f.Key, "%s, %d ms: %v", name, late, f)
			}
		}
	}
}

// Leaks that are no contact each by itself, and one side by side, are found where they are,
// and at no key that is held.
func TestLeaksNearAContactAreNoContactThatWent(t *testing.T) {
	p := load(t, "gcc-20")
	run := runInBubble(t, bench{product: p, faults: "lines R1 C1 leak 100.3 kohm; lines R2 C2 leak 7.2 Mohm", seed: 3, unpaced: true})
	assert.Equal(t, sequence.Fail, run.Outcome, run.Reason)
	for _, f := range run.Findings {
		assert.Equal(t, "leak", f.What, "%v", f)
	}
}

// A contact that is always closed is the way round of every key on its lines: no second contact,
// also where a key that is slow to open has all keys after it looked at.
func TestAStuckKeyIsNoSecondContactOfAnother(t *testing.T) {
	for _, name := range []string{"gcc-20", "vent-6", "bay-16"} {
		p := load(t, name)
		for late := range 3 {
			stuck, slow := p.Keys[0].Label, p.Keys[1+late].Label
			run := runInBubble(t, bench{
				product: p, faults: fmt.Sprintf("key %s stuck 95 ohm; key %s releases late 217 ms", stuck, slow), seed: 3, unpaced: true,
			})
			assert.Equal(t, sequence.Fail, run.Outcome, "%s: %s", name, run.Reason)
			for _, f := range run.Findings {
				assert.Contains(t, []string{stuck, slow, ""}, f.Key, "%s, %s late: %v", name, slow, f)
			}
		}
	}
}
