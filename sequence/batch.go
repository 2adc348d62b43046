package sequence

import "padjig/fixture"

// batch packs single readings into as few routines as frames allow.
type batch struct {
	plan     *Plan
	routines []*fixture.Routine
	count    []int // readings of each routine
}

// perBatch keeps a routine's stages and results of 64 channels within a frame.
const perBatch = 12

func newBatch(plan *Plan) *batch { return &batch{plan: plan} }

// read adds the reading of s with other lines guarded, where the jig can.
func (b *batch) read(s split, guard []int, rng, samples int) {
	if n := len(b.count); n == 0 || b.count[n-1] == perBatch {
		b.routines = append(b.routines, fixture.NewRoutine(b.plan.Jig))
		b.count = append(b.count, 0)
	}
	r := b.routines[len(b.routines)-1]
	b.count[len(b.count)-1]++
	stage := fixture.Stage{Range: rng, Feed: b.plan.channels(s.feed), Ground: b.plan.channels(s.ground)}
	if b.plan.Jig.Guard {
		stage.Guard = b.plan.channels(guard)
	}
	r.Stage(stage)
	r.Read(stage.Feed[0], stage.Ground[0], samples)
}

func (b *batch) perform(r *runner) ([]fixture.Resistance, error) {
	var out []fixture.Resistance
	err := r.perform(b.routines, func(i int, d fixture.Done) error {
		for s := range b.count[i] {
			out = append(out, d.Resistance(fixture.Slot(s)))
		}
		return nil
	})
	return out, err
}
