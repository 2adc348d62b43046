package runner

import (
	"padjig/fixture"
	"padjig/sequence/judge"
)

// batch packs single readings into as few routines as frames allow.
type batch struct {
	routines
	all   []*fixture.Routine
	count []int // readings of each routine
}

// perBatch keeps a routine's stages and results of 64 channels within a frame.
const perBatch = 12

// read adds the reading of s with other lines guarded, where the jig can.
func (b *batch) read(s judge.Split, guard []int, rng, samples int) {
	if n := len(b.count); n == 0 || b.count[n-1] == perBatch {
		b.all = append(b.all, b.routine())
		b.count = append(b.count, 0)
	}
	r := b.all[len(b.all)-1]
	b.count[len(b.count)-1]++
	stage := b.stage(s, guard, rng)
	r.Stage(stage)
	r.Read(stage.Feed[0], stage.Ground[0], samples)
}

func (b *batch) perform(l line) ([]fixture.Resistance, error) {
	var out []fixture.Resistance
	err := l.perform(b.all, func(i int, d fixture.Done) error {
		for s := range b.count[i] {
			out = append(out, d.Resistance(fixture.Slot(s)))
		}
		return nil
	})
	return out, err
}
