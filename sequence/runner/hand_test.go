package runner_test

import (
	"context"
	"fmt"
	"strings"
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
	"padjig/sequence/product"
	"padjig/sequence/runner"
)

// person presses keys of a simulated jig that has no actuators: each word is a
// label, labels joined by & are pressed together.
func person(t *testing.T, sim *jigsim.Jig, p *product.Product, words string) {
	for _, word := range strings.Fields(words) {
		time.Sleep(450 * time.Millisecond) // of the bubble's time
		together := strings.Split(word, "&")
		for _, label := range together {
			assert.NoError(t, sim.Hand(p.Key(label), true))
		}
		time.Sleep(600 * time.Millisecond)
		for _, label := range together {
			assert.NoError(t, sim.Hand(p.Key(label), false))
		}
	}
}

// byHand runs a hand test in a bubble and collects what the person was told.
func byHand(t *testing.T, p *product.Product, faults, words string) (run sequence.Run, prompts []string) {
	return byHandAs(t, p, faults, words, bench.plan)
}

func withoutActuators() wire.Identity {
	id := jigsim.Defaults()
	id.Features &^= wire.FeatureMechanical | wire.FeatureElectrical
	id.Actuators, id.Together = 0, 0
	return id
}

// byHandAs does so with a plan of its own.
func byHandAs(t *testing.T, p *product.Product, faults, words string,
	planned func(bench, testing.TB, *fixture.Jig) *runner.Plan) (run sequence.Run, prompts []string) {
	synctest.Test(t, func(t *testing.T) {
		b := bench{product: p, id: withoutActuators(), faults: faults, seed: 5}
		sim := b.simulate(t)
		jig, disconnect := simport.Connect(t, sim, link.Options{})
		plan := planned(b, t, jig)
		require.Equal(t, sequence.Hand, plan.Actuation)
		watch := make(chan sequence.Progress, 1000)
		go person(t, sim, p, words)
		var err error
		run, err = plan.Run(context.Background(), jig, sequence.Unit{Serial: "T-1"}, watch)
		require.NoError(t, err)
		disconnect()
		close(watch)
		for w := range watch {
			if w.Prompt != "" {
				prompts = append(prompts, w.Prompt)
			}
		}
	})
	return run, prompts
}

func TestHandPressesInAnyOrder(t *testing.T) {
	run, prompts := byHand(t, load(t, "vent-6"), "", everyKey(load(t, "vent-6"), true))
	assert.Equal(t, sequence.Pass, run.Outcome, "%s %v %v", run.Reason, run.Findings, prompts)
	assert.Equal(t, sequence.Hand, run.Actuation)
	for _, k := range run.Keys {
		assert.NotNil(t, k.Closed, k.Key)
		assert.NotNil(t, k.Make, "%s: a press is seen from its beginning", k.Key)
		assert.NotNil(t, k.Break, "%s: so is the release", k.Key)
	}
	assert.Contains(t, prompts[0], "flat surface")
}

// everyKey lists all labels, last first if asked.
func everyKey(p *product.Product, backwards bool) string {
	var labels []string
	for i := range p.Keys {
		if backwards {
			i = len(p.Keys) - 1 - i
		}
		labels = append(labels, p.Keys[i].Label)
	}
	return strings.Join(labels, " ")
}

func TestHandPressesOfAMatrix(t *testing.T) {
	p := load(t, "gcc-20")
	run, prompts := byHand(t, p, "key 5 high 900 ohm; key OK bounces 15 ms on opening", everyKey(p, false))
	assert.Equal(t, sequence.Fail, run.Outcome, "%s", run.Reason)
	require.Len(t, run.Findings, 2, "%v %v", run.Findings, prompts)
	assert.Contains(t, run.Findings[0].String(), "key high: key 5 (R2-C2), 9")
	assert.Contains(t, run.Findings[1].String(), "bounce on break: key OK")
}

func TestTwoKeysAtOnceAreNamed(t *testing.T) {
	p := load(t, "gcc-20")
	run, prompts := byHand(t, p, "", "1&5 "+everyKey(p, false))
	assert.Equal(t, sequence.Pass, run.Outcome, "%s %v", run.Reason, run.Findings)
	assert.Contains(t, strings.Join(prompts, "\n"), "1 and 5 pressed together: let go, and press one at a time")
}

func TestAKeyNeverPressedIsIncomplete(t *testing.T) {
	p := load(t, "vent-6")
	all := strings.Fields(everyKey(p, false))
	run, _ := byHand(t, p, "", strings.Join(all[:5], " "))
	assert.Equal(t, sequence.Incomplete, run.Outcome)
	assert.Equal(t, "never pressed: "+all[5], run.Reason)
	assert.Equal(t, sequence.KeyUntested, run.Keys[5].Verdict)
}

// Whatever is wrong with the keys, a run that presses none has not passed: it
// proves the harness, and says nothing of a key.
func TestElectricalPressProvesJigAndHarness(t *testing.T) {
	for _, faults := range []string{"", "key 7 open", "key 7 high 900 ohm; key OK bounces 14 ms on closing"} {
		synctest.Test(t, func(t *testing.T) {
			run, _, err := bench{product: load(t, "gcc-20"), how: sequence.Electrical, seed: 9, faults: faults}.run(t)
			require.NoError(t, err)
			assert.Equal(t, sequence.HarnessGood, run.Outcome, "%s %v", run.Reason, run.Findings)
			assert.Equal(t, "no key was pressed; proved: self-test, seating, insulation resistance, harness; not proved: closes, "+
				"contact resistance, no second contact, bounce on closing, bounce on opening, opens again", run.Reason)
			for _, k := range run.Keys {
				assert.Equal(t, sequence.KeyUntested, k.Verdict, "key %s was not touched", k.Key)
			}
		})
	}
	for faults, what := range map[string]string{
		"lines C1 C2 shorted 2 ohm": "lines shorted", "lines C1 C2 leak 2 Mohm": "leak", "key 7 stuck 80 ohm": "key closed at rest",
	} {
		synctest.Test(t, func(t *testing.T) {
			run, _, err := bench{product: load(t, "gcc-20"), how: sequence.Electrical, seed: 9, faults: faults}.run(t)
			require.NoError(t, err)
			assert.Equal(t, sequence.Fail, run.Outcome, "%s: what was seen is a fail", faults)
			require.NotEmpty(t, run.Findings)
			assert.Equal(t, what, run.Findings[0].What)
		})
	}
	synctest.Test(t, func(t *testing.T) {
		run, sim, err := bench{product: load(t, "gcc-20"), how: sequence.Electrical, seed: 9}.run(t)
		require.NoError(t, err)
		assert.Equal(t, sequence.Electrical, run.Actuation)
		assert.InDelta(t, 100, float64(run.Keys[3].Closed.Value), 1, "the known resistor")
		assert.Nil(t, run.Keys[3].Make, "nothing moved")
		for _, n := range sim.Counts().Presses {
			assert.Zero(t, n)
		}
	})
}

// The interlock is opened to load each unit; the jig then waits for a word.
func TestReadyMakesAJigFreshForTheNextUnit(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := load(t, "vent-6")
		b := bench{product: p, faults: "jig opens interlock for 3 s at key " + p.Keys[2].Label}
		jig, disconnect := simport.Connect(t, b.simulate(t), link.Options{})
		defer disconnect()
		ctx, plan := context.Background(), b.plan(t, jig)

		run, err := plan.Run(ctx, jig, sequence.Unit{Serial: "T-1"}, nil)
		require.ErrorIs(t, err, fixture.ErrInterlock)
		assert.Equal(t, sequence.Aborted, run.Outcome)
		require.ErrorIs(t, jig.Ready(ctx), fixture.ErrInterlock, "still open")
		time.Sleep(4 * time.Second) // of the bubble's time: the interlock closes
		require.ErrorIs(t, jig.Ready(ctx), fixture.ErrBarred, "something moved when it was opened")
		require.NoError(t, jig.Unbar(ctx), "somebody has looked")
		run, err = plan.Run(ctx, jig, sequence.Unit{Serial: "T-1", Attempt: 2}, nil)
		require.NoError(t, err)
		assert.Equal(t, sequence.Pass, run.Outcome, "%s %v", run.Reason, run.Findings)
	})
}

// What a person is told follows the finger: let go while the key is held and not
// a moment longer, then how many are done and which key is next, and at the end
// to keep the hands off.
func TestHandPromptsFollowTheFinger(t *testing.T) {
	p := load(t, "vent-6")
	told := byHandTold(t, p, "RIDGE+ STOP&ALL STOP STOP RIDGE+ SIDE+ ALL RIDGE- SIDE-")
	var said []string
	for _, w := range told {
		if w.Ask.Code != "" {
			said = append(said, fmt.Sprintf("%d/%d %s %s", w.Done, w.Total, w.Ask.Code, strings.Join(w.Ask.Keys, ",")))
		}
	}
	require.Equal(t, "RIDGE+ SIDE+ ALL RIDGE- SIDE- STOP", everyKey(p, false))
	assert.Equal(t, []string{
		"0/6 each key ",
		"0/6 let go RIDGE+", "1/6 next SIDE+",
		"1/6 one ALL,STOP", "1/6 next SIDE+",
		"1/6 let go STOP", "2/6 next SIDE+",
		"2/6 enough STOP", "2/6 next SIDE+",
		"2/6 enough RIDGE+", "2/6 next SIDE+",
		"2/6 let go SIDE+", "3/6 next ALL",
		"3/6 let go ALL", "4/6 next RIDGE-",
		"4/6 let go RIDGE-", "5/6 next SIDE-",
		"5/6 let go SIDE-", "6/6 hands off ",
	}, said)
}

// byHandTold runs a hand test in a bubble and collects everything that was shown.
func byHandTold(t *testing.T, p *product.Product, words string) (told []sequence.Progress) {
	synctest.Test(t, func(t *testing.T) {
		b := bench{product: p, id: withoutActuators(), seed: 5}
		sim := b.simulate(t)
		jig, disconnect := simport.Connect(t, sim, link.Options{})
		defer disconnect()
		watch := make(chan sequence.Progress, 1000)
		go person(t, sim, p, words)
		_, err := b.plan(t, jig).Run(context.Background(), jig, sequence.Unit{Serial: "T-1"}, watch)
		require.NoError(t, err)
		close(watch)
		for w := range watch {
			told = append(told, w)
		}
	})
	return told
}

// A key that is never let go, or stays closed, ends the run in place of keeping
// the person for ever: what it is shows at rest.
func TestAKeyNeverLetGoIsIncomplete(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := load(t, "vent-6")
		b := bench{product: p, id: withoutActuators(), seed: 5}
		sim := b.simulate(t)
		jig, disconnect := simport.Connect(t, sim, link.Options{})
		defer disconnect()
		go func() {
			time.Sleep(time.Second) // of the bubble's time
			assert.NoError(t, sim.Hand(p.Key("STOP"), true))
		}()
		ctx, cancel := context.WithTimeout(context.Background(), 10*time.Minute)
		defer cancel()
		run, err := b.plan(t, jig).Run(ctx, jig, sequence.Unit{Serial: "T-1"}, nil)
		require.NoError(t, err)
		assert.Equal(t, sequence.Incomplete, run.Outcome)
		assert.Contains(t, run.Reason, "STOP was not let go within 1m0s, or stays closed")
	})
}
