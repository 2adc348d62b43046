package runner_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/jigsim"
	"padjig/fixture/link"
	"padjig/fixture/simport"
	"padjig/fixture/wire"
	"padjig/sequence"
	"padjig/sequence/judge"
	"padjig/sequence/product"
	"padjig/sequence/prove"
)

// A jig that says it holds three keys and holds one at a time reads every fourth corner of
// a rectangle open, whatever the diodes do.
func TestAJigThatHoldsOneKeyProvesNoRectangle(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := bench{product: load(t, "bay-16"), seed: 7}
		jig, disconnect := simport.Connect(t, b.simulate(t), link.Options{})
		defer disconnect()
		one := &oneAtATime{Jig: jig}
		run, err := b.plan(t, jig).Run(context.Background(), one, sequence.Unit{Serial: "T-1", Attempt: 1}, nil)
		require.NoError(t, err)
		require.Positive(t, one.left, "presses that were left out")
		assert.Equal(t, sequence.Incomplete, run.Outcome, "%v", run.Findings)
		assert.Equal(t, sequence.Fact(sequence.NotProved, "rectangles"), run.Why)
	})
}

// oneAtATime presses the first key of each routine alone, and says nothing of it.
type oneAtATime struct {
	sequence.Jig
	left int
}

func (o *oneAtATime) Perform(ctx context.Context, all []*fixture.Routine, each func(int, fixture.Done) error) error {
	for _, r := range all {
		pressed := false
		for i, op := range r.Ops() {
			if _, press := op.(wire.Press); press && pressed {
				r.Ops()[i] = wire.Wait{}
				o.left++
			} else if press {
				pressed = true
			}
		}
	}
	return o.Jig.Perform(ctx, all, each)
}

// A run that is stopped at any of its routines is no pass, and what it proved until then is
// no more than it read.
func TestARunStoppedAnywhereProvesWhatItRead(t *testing.T) {
	stopped, last := errors.New("stopped"), 0
	for at := 1; ; at++ {
		over := false
		synctest.Test(t, func(t *testing.T) {
			b := bench{product: load(t, "vent-6"), seed: 7, unpaced: true}
			jig, disconnect := simport.Connect(t, b.simulate(t), link.Options{})
			defer disconnect()
			cut := &cutShort{Jig: jig, after: at, err: stopped}
			run, err := b.plan(t, jig).Run(context.Background(), cut, sequence.Unit{Serial: "T-1", Attempt: 1}, nil)
			require.NotNil(t, run.Proofs)
			if over = err == nil; over {
				assert.Equal(t, sequence.Pass, run.Outcome, "%s %v", run.Reason, run.Findings)
				assert.Empty(t, run.Proofs.Missing)
				return
			}
			require.ErrorIs(t, err, stopped)
			assert.Equal(t, sequence.Aborted, run.Outcome)
			assert.NotEmpty(t, run.Proofs.Missing, "after %d routines", at)
			assert.GreaterOrEqual(t, len(run.Proofs.Proved), last)
			last = len(run.Proofs.Proved)
		})
		if over {
			require.Greater(t, at, 8, "so many routines were stopped at")
			return
		}
	}
}

// cutShort ends in an error behind so many results.
type cutShort struct {
	sequence.Jig
	after int
	err   error
}

func (c *cutShort) Perform(ctx context.Context, all []*fixture.Routine, each func(int, fixture.Done) error) error {
	return c.Jig.Perform(ctx, all, func(i int, d fixture.Done) error {
		if c.after--; c.after == 0 {
			return c.err
		}
		return each(i, d)
	})
}

// What a plan says that it will prove is what a good unit is proved to be, on every
// keypad, jig and way of pressing; what is required and not proved is never a pass.
func TestPlansProveWhatTheySay(t *testing.T) {
	jigs := map[string]func(*wire.Identity){
		"all":              func(*wire.Identity) {},
		"one probe a line": func(id *wire.Identity) { id.Features &^= wire.FeatureLoop },
		"two keys at once": func(id *wire.Identity) { id.Together = 2 },
		"no guard":         func(id *wire.Identity) { id.Features &^= wire.FeatureGuard },
	}
	for name, change := range jigs {
		for _, file := range []string{"gcc-20", "vent-6", "bay-16", "loose-12"} {
			for _, how := range []sequence.Actuation{sequence.Mechanical, sequence.Electrical} {
				synctest.Test(t, func(t *testing.T) {
					id := jigsim.Defaults()
					change(&id)
					b := bench{product: load(t, file), id: id, how: how, seed: 7, unpaced: true}
					jig, disconnect := simport.Connect(t, b.simulate(t), link.Options{})
					defer disconnect()
					plan := b.plan(t, jig)
					run, err := plan.Run(context.Background(), jig, sequence.Unit{Serial: "T-1", Attempt: 1}, nil)
					require.NoError(t, err)
					require.Empty(t, run.Findings)
					said := fmt.Sprintf("%s on a jig with %s, %s: %s", file, name, how, run.Reason)
					lacks := plan.Lacks().Proofs()
					want := sequence.Pass
					switch {
					case how == sequence.Electrical:
						want = sequence.HarnessGood
					case len(lacks) > 0:
						want = sequence.Incomplete
					}
					assert.Equal(t, want, run.Outcome, said)
					assert.Equal(t, plan.Shows.Proofs(), run.Proofs.Proved, said)
					var missing []prove.Proof
					for _, g := range run.Proofs.Missing {
						missing = append(missing, g.Proof)
					}
					assert.ElementsMatch(t, lacks, missing, said)
				})
			}
		}
	}
}

// A product that requires seating is told from one that does not on a jig that cannot show it.
func TestSeatingIsRequiredWhereTheProductSaysSo(t *testing.T) {
	p := load(t, "gcc-20")
	assert.NotContains(t, judge.Required(p), prove.Seating)
	p.Test.AlsoRequired = []prove.Proof{prove.Seating}
	assert.Len(t, judge.Required(p)[prove.Seating], 10, "each pin in use")
	id := jigsim.Defaults()
	id.Features &^= wire.FeatureLoop
	synctest.Test(t, func(t *testing.T) {
		run, _, err := bench{product: p, id: id, seed: 7}.run(t)
		require.NoError(t, err)
		assert.Equal(t, sequence.Incomplete, run.Outcome)
		assert.Equal(t, sequence.Fact(sequence.NotProved, "seating"), run.Why)
	})
}

// A product of which every unit would pass requires nothing, and nothing passes.
func TestAProductWithoutKeysPassesNothing(t *testing.T) {
	p := load(t, "vent-6")
	p.Keys = nil
	shown := prove.Shown{}
	for proof, of := range judge.Called(load(t, "vent-6")) {
		for _, one := range of {
			shown.Note(proof, one)
		}
	}
	assert.True(t, prove.Passes(judge.Required(load(t, "vent-6")), shown, 0, 0))
	assert.False(t, prove.Passes(judge.Required(p), shown, 0, 0))
	for _, purpose := range []sequence.Purpose{sequence.FirstPress, sequence.Exercise, sequence.GaugeStudy} {
		assert.False(t, prove.Passes(judge.RequiredFor(purpose, p, prove.Subjects{}), shown, 0, 0), purpose)
	}
}

// A person whose press falls between two watches is asked for another; a key whose bounce
// is never seen is no part of a pass.
func TestABounceThatNobodySawIsNoPass(t *testing.T) {
	p := load(t, "vent-6")
	run, unseen := blinking(t, p, everyKey(p, false), 0)
	assert.Equal(t, sequence.Pass, run.Outcome, "%s %v", run.Reason, run.Findings)
	assert.Empty(t, unseen)

	first := p.Keys[0].Label
	run, unseen = blinking(t, p, first+" "+everyKey(p, false), 1)
	assert.Equal(t, sequence.Pass, run.Outcome, "%s %v", run.Reason, run.Findings)
	assert.Equal(t, []string{first}, unseen, "pressed once more")

	run, unseen = blinking(t, p, strings.Join(slices.Repeat(strings.Fields(everyKey(p, false)), 4), " "), 1000)
	assert.Equal(t, sequence.Incomplete, run.Outcome, "%v", run.Findings)
	assert.Equal(t, sequence.NotProved, run.Why.Code)
	assert.Contains(t, run.Reason, "yet a pass has to prove more: bounce on closing")
	for _, k := range p.Keys { // now and then one is seen by luck
		times := len(slices.DeleteFunc(slices.Clone(unseen), func(label string) bool { return label != k.Label }))
		assert.LessOrEqual(t, times, 3, "%s is not asked for without end", k.Label)
	}
}

// blinking runs a hand test of which the first presses are seen too late, and gives the
// keys that were to be pressed again.
func blinking(t *testing.T, p *product.Product, words string, presses int) (run sequence.Run, unseen []string) {
	synctest.Test(t, func(t *testing.T) {
		b := bench{product: p, id: withoutActuators(), seed: 5}
		sim := b.simulate(t)
		jig, disconnect := simport.Connect(t, sim, link.Options{})
		defer disconnect()
		watch, told := make(chan sequence.Progress), make(chan struct{})
		blink := &blink{Jig: jig}
		blink.left.Store(int64(presses))
		go func() {
			defer close(told)
			for w := range watch {
				switch w.Ask.Code {
				case sequence.AskUnseen:
					unseen = append(unseen, w.Ask.Keys...)
				case sequence.AskLetGo:
					blink.left.Add(-1)
				}
			}
		}()
		go person(t, sim, p, words)
		var err error
		run, err = b.plan(t, jig).Run(context.Background(), blink, sequence.Unit{Serial: "T-1", Attempt: 1}, watch)
		require.NoError(t, err)
		time.Sleep(time.Minute) // of the bubble's time: the person comes to an end too
		close(watch)
		<-told
	})
	return run, unseen
}

// blink watches for no more than a millisecond at a time.
type blink struct {
	sequence.Jig
	left atomic.Int64 // presses for which it does
}

func (b *blink) Perform(ctx context.Context, all []*fixture.Routine, each func(int, fixture.Done) error) error {
	for _, r := range all {
		for i, op := range r.Ops() {
			if c, capture := op.(wire.Capture); capture && b.left.Load() > 0 {
				c.Window, c.Quiet = 1, 1
				r.Ops()[i] = c
			}
		}
	}
	return b.Jig.Perform(ctx, all, each)
}
