package runner

import (
	"padjig/fixture"
	"padjig/sequence/judge"
)

// batch packs single readings into as few routines as frames allow.
type batch struct {
	routines
	all   []*fixture.Routine
	slots [][]fixture.Slot // of each routine
}

// perBatch keeps a routine's stages and results of 64 channels within a frame.
const perBatch = 12

// read adds the reading of s with other lines guarded, where the jig can.
func (b *batch) read(s judge.Split, guard []int, rng, samples int) {
	last := len(b.all) - 1
	if last < 0 || len(b.slots[last]) == perBatch {
		b.all, b.slots = append(b.all, b.routine()), append(b.slots, nil)
		last++
	}
	b.slots[last] = append(b.slots[last], b.between(b.all[last], b.stage(s, guard, rng), samples))
}

func (b *batch) perform(l line) ([]fixture.Resistance, error) {
	var out []fixture.Resistance
	err := l.perform(b.all, func(i int, d fixture.Done) error {
		out = append(out, readingsOf(d, b.slots[i])...)
		return nil
	})
	return out, err
}
