package runner_test

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/fixture/simport"
	"padjig/sequence"
)

var errCut = errors.New("the line was cut")

// cut is a jig whose line is cut before its n-th errand, from 1.
type cut struct {
	*fixture.Jig
	left int
}

func (c *cut) Perform(ctx context.Context, routines []*fixture.Routine, each func(int, fixture.Done) error) error {
	if c.left--; c.left <= 0 {
		return errCut
	}
	return c.Jig.Perform(ctx, routines, each)
}

// What was seen before a run was aborted is in the run, also what was still to
// be looked for: wherever the line is cut after the first look, a finding stands.
func TestAbortedRunKeepsWhatWasSeen(t *testing.T) {
	for fault, from := range map[string]int{"lines C1 C2 leak 2 Mohm": 5, "lines C1 C2 leak 50 kohm": 2, "pins 3 7 swapped": 2} {
		t.Run(fault, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				b := bench{product: load(t, "gcc-20"), faults: fault, seed: 11}
				for n := 2; ; n++ {
					jig, disconnect := simport.Connect(t, b.simulate(t), link.Options{})
					run, err := b.plan(t, jig).Run(context.Background(), &cut{jig, n}, sequence.Unit{Serial: "T-1", Attempt: 1}, nil)
					disconnect()
					assert.Equal(t, n >= from, len(run.Findings) > 0, "cut before errand %d", n)
					if err == nil {
						return
					}
					require.ErrorIs(t, err, errCut)
					require.Equal(t, sequence.Aborted, run.Outcome)
				}
			})
		})
	}
}
