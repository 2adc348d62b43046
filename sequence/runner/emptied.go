package runner

import (
	"context"
	"errors"

	"padjig/fixture"
	"padjig/sequence"
)

// Emptied reports whether nothing lies in the nest of a jig with two probes a line: no
// loop of any channel leads anywhere. It presses nothing and joins nothing, and what flows
// from one probe of a pad to the other does not flow through the unit. The jig is inert
// when it returns.
func Emptied(ctx context.Context, jig sequence.Jig, caps fixture.Capabilities) (bool, error) {
	var routines []*fixture.Routine
	for first := 0; first < caps.Channels; first += loopsPerRoutine {
		routine := fixture.NewRoutine(caps)
		for c := first; c < min(first+loopsPerRoutine, caps.Channels); c++ {
			routine.Loop(c, 0, samplesGlance)
		}
		routines = append(routines, routine)
	}
	empty := true
	err := jig.Perform(ctx, routines, func(i int, d fixture.Done) error {
		for s := range min(loopsPerRoutine, caps.Channels-i*loopsPerRoutine) {
			empty = empty && d.Resistance(fixture.Slot(s)).AtLeast
		}
		return nil
	})
	return empty && err == nil, errors.Join(err, sequence.MakeInert(ctx, jig))
}
