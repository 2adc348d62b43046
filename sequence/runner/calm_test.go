package runner_test

import (
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/assert"

	"padjig/sequence"
)

// What surrounds a jig and no jig states is never the unit's: good units pass, or the
// run ends without a verdict and says what to do.
func TestWhatSurroundsTheJigBlamesNoUnit(t *testing.T) {
	for _, c := range []struct {
		around string
		pass   bool // of every unit: nothing stays in doubt
	}{
		{"lines hold 900 pF", true},
		{"mains 50 Hz couples 5 nA", true},
		{"mains 60 Hz couples 5 nA", true},
		{"mains 50 Hz couples 50 nA", false},
		{"mains 50 Hz couples 5 nA; lines hold 900 pF", true},
		{"inputs take 200 pA", true},
		{"clamps leak 200 pA", true},
		{"inputs take 1 nA", false}, // far beyond what the jig states
		{"clamps leak 1 nA", false},
		{"lines hold 5 nF", false},
		{"lines hold 20 nF", false},
		{"lines soak 0.5 %", false},
		{"mains 50 Hz couples 1 uA", false},
	} {
		t.Run(c.around, func(t *testing.T) {
			for _, name := range []string{"gcc-20", "bay-16"} {
				for seed := range uint64(5) {
					synctest.Test(t, func(t *testing.T) {
						run, _, err := bench{product: load(t, name), faults: c.around, seed: seed, unpaced: true}.run(t)
						assert.Empty(t, run.Findings, "%s, seed %d", name, seed)
						switch {
						case c.pass || run.Outcome != sequence.Aborted:
							assert.Equal(t, sequence.Pass, run.Outcome, "%s, seed %d: %s", name, seed, run.Reason)
						default:
							assert.Error(t, err)
							assert.True(t, run.Why.Doubtful(), run.Reason)
							assert.Contains(t, run.Reason, "then test again")
						}
					})
				}
			}
		})
	}
}

// Lines that hold far more than patience deals with look like a second contact, and like
// one that bounces, on the range with which contacts are watched: this is looked at before
// any key is pressed.
func TestSlowLinesBlameNoUnit(t *testing.T) {
	for _, around := range []string{"lines hold 8 nF", "lines hold 15 nF", "lines hold 45 nF"} {
		for _, name := range []string{"vent-6", "gcc-20", "bay-16"} {
			for seed := range uint64(3) {
				synctest.Test(t, func(t *testing.T) {
					run, _, _ := bench{product: load(t, name), faults: around, seed: seed, unpaced: true}.run(t)
					assert.Empty(t, run.Findings, "%s, %s, seed %d", name, around, seed)
					assert.True(t, run.Why.Doubtful(), "%s, %s, seed %d: %s %s", name, around, seed, run.Outcome, run.Reason)
				})
			}
		}
	}
}

// Nor does it hide what is the unit's: a unit with a fault never passes, and where no more
// surrounds the jig than patience deals with, it fails.
func TestWhatSurroundsTheJigHidesNoFault(t *testing.T) {
	for around, sure := range map[string]bool{
		"lines hold 900 pF": true, "mains 50 Hz couples 5 nA": true, "mains 60 Hz couples 50 nA": false,
	} {
		for _, c := range plantedFaults {
			if c.product != "gcc-20" || c.outcome != sequence.Fail {
				continue
			}
			synctest.Test(t, func(t *testing.T) {
				run, _, err := bench{product: load(t, c.product), faults: c.fault + "; " + around, seed: 11, unpaced: true}.run(t)
				assert.NotEqual(t, sequence.Pass, run.Outcome, "%s; %s", c.fault, around)
				if sure || !run.Why.Doubtful() {
					assert.NoError(t, err)
					assert.Equal(t, c.outcome, run.Outcome, "%s; %s: %s", c.fault, around, run.Reason)
				}
			})
		}
	}
}

// Only the disturbed pay for patience.
func TestPatienceIsPaidForByTheDisturbed(t *testing.T) {
	took := func(around string) (all sequence.Seconds) {
		synctest.Test(t, func(t *testing.T) {
			run, _, err := bench{product: load(t, "gcc-20"), faults: around, seed: 3}.run(t)
			assert.NoError(t, err)
			assert.Equal(t, sequence.Pass, run.Outcome)
			all = run.Duration
		})
		return all
	}
	quiet := took("")
	for _, around := range []string{"references drift 500 ppm", "mains 50 Hz couples 5 nA", "lines hold 900 pF"} {
		ratio := float64(took(around)) / float64(quiet)
		t.Logf("%-25s %.2f times the cycle", around, ratio)
		if around == "references drift 500 ppm" {
			assert.Equal(t, 1.0, ratio, "nothing was noticed")
			continue
		}
		assert.Greater(t, ratio, 1.1)
		assert.Less(t, ratio, 4.0)
	}
}
