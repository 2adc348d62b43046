package runner_test

import (
	"context"
	"fmt"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/jigsim"
	"padjig/fixture/link"
	"padjig/fixture/quantity"
	"padjig/fixture/simport"
	"padjig/fixture/wire"
	"padjig/sequence"
	"padjig/sequence/runner"
)

// planner makes a plan of the returns desk for a jig.
type planner func(bench, fixture.Capabilities) (*runner.Plan, error)

func firstPress(b bench, jig fixture.Capabilities) (*runner.Plan, error) {
	return runner.NewFirstPress(b.product, jig, sequence.Mechanical)
}

func exercise(e sequence.Exercising) planner {
	return func(b bench, jig fixture.Capabilities) (*runner.Plan, error) {
		return runner.NewExercise(b.product, jig, e)
	}
}

// returned makes a run of the returns desk and gives with it the jig as it was
// left and the operations that were asked of it.
func (b bench) returned(t testing.TB, make planner) (sequence.Run, *jigsim.Jig, []wire.Op) {
	t.Helper()
	var sent []wire.Op
	sim := b.simulate(t)
	jig, disconnect := simport.Connect(t, sim, link.Options{Trace: func(e link.Event) {
		if !e.FromJig && e.Frame.Type == wire.TypeRoutine {
			ops, err := wire.ParseRoutine(e.Frame.Payload)
			require.NoError(t, err)
			sent = append(sent, ops...)
		}
	}})
	defer disconnect()
	plan, err := make(b, jig.Capabilities())
	require.NoError(t, err)
	run, err := b.spoken(plan).Run(context.Background(), jig, sequence.Unit{Serial: "T-1", Case: "c", Attempt: 1, Started: time.Now()}, nil)
	require.NoError(t, err)
	return run, sim, sent
}

// A first press presses each key once and no more, whatever it finds, and
// drives nothing but the smallest current.
func TestFirstPressIsOneGentlePress(t *testing.T) {
	for _, c := range []struct {
		product, fault string
		outcome        sequence.Outcome
		says           string // finding, or reason
	}{
		{"gcc-20", "", sequence.Pass, ""},
		{"gcc-20", "key 7 high 640 ohm", sequence.Fail, "key high: key 7 (R3-C1), 6"},
		{"gcc-20", "key 7 high 184 ohm", sequence.Incomplete, "within the guard band at a first press, which is not repeated: 7"},
		{"gcc-20", "key 7 open", sequence.Fail, "key open: key 7 (R3-C1)"},
		{"gcc-20", "key 7 stuck 80 ohm", sequence.Fail, "key closed at rest: key 7 (R3-C1)"},
		{"gcc-20", "line R3 broken between 7 and 8", sequence.Fail, "line broken: line R3 broken between keys 7 and 8"},
		{"gcc-20", "lines C1 C2 leak 2 Mohm", sequence.Fail, "leak: between C1 (pin 6) and C2 (pin 7)"},
		{"gcc-20", "pins 3 5 swapped", sequence.Fail, "key open: key"},
		{"bay-16", "", sequence.Pass, ""},
		{"bay-16", "key 6 diode shorted", sequence.Fail, "diode shorted: key 6"},
		{"bay-16", "key 6 diode reversed", sequence.Fail, "diode reversed: key 6"},
	} {
		t.Run(c.product+" "+c.fault, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				run, sim, sent := bench{product: load(t, c.product), faults: c.fault, seed: 11}.returned(t, firstPress)
				said := run.Reason
				if len(run.Findings) > 0 {
					said = run.Findings[0].String()
				}
				assert.Equal(t, c.outcome, run.Outcome, "%s %v", run.Reason, run.Findings)
				assert.Contains(t, said, c.says)
				assert.Equal(t, sequence.FirstPress, run.Purpose)
				assert.Equal(t, "c", run.Case)
				assert.LessOrEqual(t, slices.Max(sim.Counts().Presses), 1, "%v", sim.Counts().Presses)
				assertGentle(t, sent, c.product)
			})
		})
	}
}

func assertGentle(t *testing.T, sent []wire.Op, product string) {
	t.Helper()
	least := uint8(len(jigsim.Defaults().Ranges) - 1)
	if product == "bay-16" { // at 2.5 uA a conducting diode looks open
		least--
	}
	for _, op := range sent {
		stage, is := op.(wire.Stage)
		if !is {
			continue
		}
		assert.GreaterOrEqual(t, stage.Range, least, "reference resistor")
		assert.NotContains(t, stage.Channels, wire.Guard, "no reference resistor limits a guard")
	}
}

// By hand each key is pressed once too, with the same small current, and what
// falls into the guard band stays undecided.
func TestFirstPressByHand(t *testing.T) {
	p := load(t, "vent-6")
	gentle := func(b bench, t testing.TB, jig *fixture.Jig) *runner.Plan {
		plan, err := runner.NewFirstPress(b.product, jig.Capabilities(), sequence.Hand)
		require.NoError(t, err)
		assert.Less(t, float64(plan.Current()), 1e-4)
		return plan
	}
	run, _ := byHandAs(t, p, "", everyKey(p, true), gentle)
	assert.Equal(t, sequence.Pass, run.Outcome, "%s %v", run.Reason, run.Findings)
	assert.Equal(t, sequence.FirstPress, run.Purpose)

	limit := p.Keys[2].Limits.ClosedMax
	high := func(ohm quantity.Ohm) sequence.Run {
		run, _ := byHandAs(t, p, fmt.Sprintf("key %q high %.3f ohm", p.Keys[2].Label, float64(ohm)), everyKey(p, true), gentle)
		return run
	}
	inside := 0.8 * limit
	read := high(inside).Keys[2].Closed
	run = high(inside + limit - read.Value - read.U) // half a guard band from the limit
	assert.Equal(t, sequence.Incomplete, run.Outcome, "%v", run.Findings)
	assert.Equal(t, "within the guard band at a first press, which is not repeated: "+p.Keys[2].Label, run.Reason)
}

func TestFirstPressOfAJigWithoutAFineRange(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		id := jigsim.Defaults()
		id.NoisePPB, id.ResolutionBits = 300_000, 12 // 1 Mohm says nothing of 200 ohm here
		b := bench{product: load(t, "gcc-20"), id: id, seed: 3}
		jig, disconnect := simport.Connect(t, b.simulate(t), link.Options{})
		defer disconnect()
		plan, err := firstPress(b, jig.Capabilities())
		require.NoError(t, err)
		assert.Less(t, float64(plan.Current()), 1e-3)
		assert.Greater(t, float64(plan.Current()), 10e-6, "the smallest current that still reads")
	})
}

// What the first press is for: a film that one press rubs away. Whoever begins
// with the production test cures the unit and finds nothing.
func TestFirstPressFindsWhatATestCures(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := bench{product: load(t, "gcc-20"), faults: "key 7 filmed 2 kohm for 1 presses", seed: 11}
		jig, disconnect := simport.Connect(t, b.simulate(t), link.Options{})
		defer disconnect()
		gentle, err := firstPress(b, jig.Capabilities())
		require.NoError(t, err)
		unit := sequence.Unit{Serial: "T-1", Case: "c", Attempt: 1, Started: time.Now()}
		first, err := gentle.Run(context.Background(), jig, unit, nil)
		require.NoError(t, err)
		require.Equal(t, sequence.Fail, first.Outcome)
		assert.Contains(t, first.Findings[0].String(), "key high: key 7 (R3-C1), 2.0")
		test, err := b.plan(t, jig).Run(context.Background(), jig, unit, nil)
		require.NoError(t, err)
		assert.Equal(t, sequence.Pass, test.Outcome, "%v", test.Findings)
	})
}

func TestExerciseFindsWhatATestPasses(t *testing.T) {
	all := sequence.Exercising{Presses: 30, Hold: 2 * time.Second}
	for _, c := range []struct {
		fault   string
		do      sequence.Exercising
		tested  sequence.Outcome // of the production test on the same unit
		outcome sequence.Outcome
		says    string
	}{
		{"", all, sequence.Pass, sequence.Pass, ""},
		{"key 7 intermittent 10 %", all, sequence.Pass, sequence.Fail, "misses: key 7 (R3-C1), "},
		{"key 7 drops out 3 ms every 400 ms", all, sequence.Pass, sequence.Fail, "drops out: key 7 (R3-C1), 5 openings in 2s, the longest, 3"},
		{"key 7 high 640 ohm", all, sequence.Fail, sequence.Fail, "key high: key 7 (R3-C1), 30 of 30 presses, the first at press 1, 6"},
		{"key 7 releases late 80 ms", all, sequence.Fail, sequence.Fail, "sticks: key 7 (R3-C1), 30 of 30 presses"},
		{"key 7 bounces 14 ms on closing", all, sequence.Fail, sequence.Fail, "bounce on make: key 7 (R3-C1), the longest of 30 presses, 14"},
		{"key 1 drops out 5 ms every 300 ms", sequence.Exercising{Flex: time.Second}, sequence.Pass, sequence.Fail,
			"drops out: key 1 (R1-C1), 3 openings in 1s, the longest, while the tail was moved"},
	} {
		t.Run(c.fault, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				b := bench{product: load(t, "gcc-20"), faults: c.fault, seed: 12}
				test, _, err := b.run(t)
				require.NoError(t, err)
				assert.Equal(t, c.tested, test.Outcome, "%v", test.Findings)
				run, _, _ := b.returned(t, exercise(c.do))
				require.Equal(t, c.outcome, run.Outcome, "%s %v", run.Reason, run.Findings)
				if c.says != "" {
					assert.Contains(t, run.Findings[0].String(), c.says)
					assert.Len(t, run.Findings, 1, "%v", run.Findings)
				}
			})
		})
	}
}

func TestExerciseSaysWhatWasDone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := bench{product: load(t, "gcc-20"), seed: 11}
		run, sim, _ := b.returned(t, exercise(sequence.Exercising{Presses: 5, Hold: time.Second, Flex: 500 * time.Millisecond}))
		assert.Equal(t, sequence.Pass, run.Outcome, "%s %v", run.Reason, run.Findings)
		require.Len(t, run.Exercised, 20)
		presses, flexed := 0, 0
		for i, x := range run.Exercised {
			assert.Zero(t, x.Bad()+x.First)
			assert.Equal(t, fixture.Hold{Watched: time.Second}, x.Held)
			if x.Flexed.Watched > 0 {
				flexed++
			}
			presses += x.Presses
			require.NotNil(t, x.Least)
			assert.LessOrEqual(t, x.Least.Value, x.Most.Value)
			assert.Equal(t, x.Most, run.Keys[i].Closed, "the worst of all presses")
			assert.Less(t, time.Duration(x.Make), 3*time.Millisecond)
		}
		assert.Equal(t, 5, flexed, "five keys reach all nine lines of keys")
		sent := 0
		for _, n := range sim.Counts().Presses {
			sent += n
		}
		assert.Equal(t, 20*5, presses)
		assert.Equal(t, presses+20+flexed, sent, "and one press to hold each")
	})
}

// Stopping at the first press that is not good leaves the unit as it then is:
// nothing else is pressed, and what was not done is not said to be done.
func TestExerciseStopsAtTheFirstMiss(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := bench{product: load(t, "gcc-20"), faults: "key 7 intermittent 20 %", seed: 11}
		run, sim, _ := b.returned(t, exercise(sequence.Exercising{Presses: 200, StopAtFirst: true, Hold: time.Second}))
		assert.Equal(t, sequence.Fail, run.Outcome)
		require.Len(t, run.Findings, 1, "%v", run.Findings)
		last := run.Exercised[len(run.Exercised)-1]
		assert.Equal(t, "7", last.Key)
		assert.Equal(t, 1, last.Misses)
		assert.Equal(t, last.Presses, last.First, "the press that missed was the last one")
		key := b.product.Keys[slices.IndexFunc(run.Keys, func(k sequence.KeyResult) bool { return k.Key == "7" })]
		assert.LessOrEqual(t, sim.Counts().Presses[key.Actuator]-last.Presses, 4, "what was queued behind may have begun")
		for _, s := range run.Steps {
			assert.Equal(t, s.Name != "held closed", s.Done, s.Name)
		}
	})
}

// An exercise that is interrupted keeps what it has seen, and is aborted.
// An exercise says about how long it still takes, as soon as a burst is done.
func TestExerciseSaysHowLongYet(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := bench{product: load(t, "gcc-20"), faults: "lines R3 C1 shorted 2 ohm", seed: 11}
		jig, disconnect := simport.Connect(t, b.simulate(t), link.Options{})
		defer disconnect()
		plan, err := runner.NewExercise(b.product, jig.Capabilities(),
			sequence.Exercising{Presses: 60, Hold: 2 * time.Second, Flex: time.Second})
		require.NoError(t, err)
		type said struct {
			at time.Time
			sequence.Progress
		}
		var all []said
		watch, over := make(chan sequence.Progress, 1000), make(chan struct{})
		go func() {
			defer close(over)
			for p := range watch {
				all = append(all, said{time.Now(), p})
			}
		}()
		_, err = plan.Run(context.Background(), jig, sequence.Unit{Serial: "T-1", Case: "c", Attempt: 1}, watch)
		require.NoError(t, err)
		close(watch)
		<-over
		end, known := all[len(all)-1].at, 0
		for _, s := range all {
			if s.Press == 0 && (s.Key == nil || len(s.Step.Keys) == 0) {
				continue
			}
			known++
			left := end.Sub(s.at)
			assert.InDelta(t, left.Seconds(), s.Left.Seconds(), 2+0.1*left.Seconds(), "%s, %d of %d", s.Step.Name, s.Done, s.Total)
		}
		assert.Greater(t, known, 3*19)
	})
}

func TestExerciseInterrupted(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := bench{product: load(t, "gcc-20"), faults: "key 1 intermittent 20 %; jig opens interlock at routine 40", seed: 11}
		jig, disconnect := simport.Connect(t, b.simulate(t), link.Options{})
		defer disconnect()
		plan, err := runner.NewExercise(b.product, jig.Capabilities(), sequence.Exercising{Presses: 30, Hold: time.Second})
		require.NoError(t, err)
		run, err := plan.Run(context.Background(), jig, sequence.Unit{Serial: "T-1", Case: "c", Attempt: 1}, nil)
		assert.ErrorIs(t, err, fixture.ErrInterlock)
		assert.Equal(t, sequence.Aborted, run.Outcome)
		require.NotEmpty(t, run.Findings)
		assert.Contains(t, run.Findings[0].String(), "misses: key 1 (R1-C1)")
		assert.Less(t, len(run.Exercised), 4)
	})
}

// A key whose lines are connected at rest is hidden behind that: pressing or
// holding it would show nothing, and is left out.
func TestExerciseLeavesHiddenKeysOut(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := bench{product: load(t, "gcc-20"), faults: "lines R3 C1 shorted 2 ohm", seed: 11}
		run, _, _ := b.returned(t, exercise(sequence.Exercising{Presses: 3, Hold: 300 * time.Millisecond, Flex: 300 * time.Millisecond}))
		assert.Equal(t, sequence.Fail, run.Outcome)
		for _, x := range run.Exercised {
			assert.NotEqual(t, "7", x.Key)
		}
		assert.Equal(t, 19, len(run.Exercised))
		assert.Len(t, run.Findings, 1, "%v", run.Findings)
	})
}

func TestExerciseOfSomeKeysIsNoPass(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := bench{product: load(t, "gcc-20"), seed: 11}
		run, _, _ := b.returned(t, exercise(sequence.Exercising{Keys: []int{8, 4}, Presses: 3}))
		assert.Equal(t, sequence.Incomplete, run.Outcome)
		assert.Equal(t, "only these keys were exercised: 7, 4", run.Reason)
		assert.Len(t, run.Exercised, 2)
	})
}

func TestReturnsNeedActuatorsWhereTheyPressOften(t *testing.T) {
	id := jigsim.Defaults()
	caps := fixture.CapabilitiesOf(id)
	caps.Mechanical = false
	_, err := runner.NewExercise(load(t, "gcc-20"), caps, sequence.Exercising{Presses: 3})
	assert.ErrorContains(t, err, "has no actuators")
	_, err = runner.NewFirstPress(load(t, "gcc-20"), fixture.CapabilitiesOf(id), sequence.Electrical)
	assert.ErrorContains(t, err, "an electrical press does not touch the keys")
}
