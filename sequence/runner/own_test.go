package runner_test

import (
	"context"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
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
	"padjig/sequence/runner"
)

var (
	leakUnits = flag.Int("leakunits", 10, "pairs of units near their limit; 1000 is the full number")
	selfTests = flag.Int("selftests", 300, "self-tests in the count of false alarms; 20000 is the full number")
)

// noisy tests a unit on a jig whose conversions are so many times noisier than it states.
func noisy(t *testing.T, b bench, times float64) (run sequence.Run) {
	b.unpaced, b.id = true, jigsim.Defaults()
	stated := b.id.NoisePPB
	b.id.NoisePPB = uint32(float64(stated) * times)
	synctest.Test(t, func(t *testing.T) {
		jig, disconnect := simport.Connect(t, b.simulate(t), link.Options{})
		defer disconnect()
		caps := jig.Capabilities()
		caps.Noise = float64(stated) * 1e-9
		plan, err := runner.NewPlan(b.product, caps, runner.DefaultActuation(b.product, caps))
		require.NoError(t, err)
		run, _ = plan.Run(context.Background(), jig, sequence.Unit{Serial: "T-1", Attempt: 1}, nil)
	})
	return run
}

// While the jig is noisier than it states, uncertainties grow: verdicts may fall into the guard
// band or be withheld, and are never wrong.
func TestNoiseWidensAndBlamesNobody(t *testing.T) {
	var quiet, loud float64
	for _, name := range []string{"gcc-20", "bay-16"} {
		for seed := range uint64(4) {
			for _, times := range []float64{1, 2.8, 3, 6} {
				run := noisy(t, bench{product: load(t, name), seed: seed}, times)
				assert.Empty(t, run.Findings, "%s, %v times, seed %d", name, times, seed)
				switch {
				case run.Outcome != sequence.Aborted:
					assert.Equal(t, sequence.Pass, run.Outcome, run.Reason)
				default:
					assert.True(t, run.Why.Doubtful(), run.Reason)
					assert.Greater(t, times, 2.8, run.Reason)
				}
				if run.Outcome == sequence.Pass && name == "gcc-20" {
					switch of := run.Keys[0].Closed; times {
					case 1:
						quiet += float64(of.U)
					case 2.8:
						loud += float64(of.U)
					}
				}
				run = noisy(t, bench{product: load(t, name), seed: seed, faults: "key 1 open"}, times)
				assert.NotEqual(t, sequence.Pass, run.Outcome, "%s, %v times, seed %d", name, times, seed)
			}
		}
	}
	assert.Greater(t, loud, quiet, "u has grown")
	assert.Equal(t, sequence.NoiseDoubtful, noisy(t, bench{product: load(t, "gcc-20"), seed: 1}, 6).Why.Code)
}

// A bias that comes with the third unit is noticed there, and gone with it.
func TestBiasThatComesIsNoticed(t *testing.T) {
	for _, name := range []string{"gcc-20", "bay-16"} {
		inSession(t, name, 3, func(s *session) {
			s.memory.Verified(s.check())
			for i, around := range []string{"inputs take 100 pA", "", "inputs take 2 nA", "", "inputs take -2 nA; key 1 open"} {
				run := s.unit(around)
				if i%2 == 0 && i > 0 {
					assert.Equal(s, sequence.InputsDoubtful, run.Why.Code, run.Reason)
					assert.Empty(s, run.Findings)
					continue
				}
				assert.Equal(s, sequence.Pass, run.Outcome, run.Reason)
			}
		})
	}
}

// What is known of another jig, or of one with other resistors, says nothing of this one, and a
// new verification ends what is known of units before.
func TestMemoryIsOfOneJig(t *testing.T) {
	inSession(t, "gcc-20", 3, func(s *session) {
		other := s.check()
		other.Jig = "SIM-0002"
		other.Checks[0].Ohm *= 1.01
		s.memory.Verified(other)
		assert.Equal(s, sequence.Pass, s.unit("").Outcome, "another jig's verification")
		mended := s.check()
		mended.Checks[0].Check, mended.Checks[0].Ohm = 480, mended.Checks[0].Ohm*1.02
		s.memory.Verified(mended)
		assert.Equal(s, sequence.Pass, s.unit("").Outcome, "made anew since")
		assert.Equal(s, sequence.DriftedSession, s.unit("references drift -500 ppm").Why.Code)
		s.memory.Verified(nil)
		assert.Equal(s, sequence.DriftedSession, s.unit("references drift -500 ppm").Why.Code, "one of before the records kept it")
		s.unit("references drift -500 ppm; key 1 open")
		verified := s.check() // on references that have moved for good
		s.memory.Verified(verified)
		assert.Equal(s, sequence.Pass, s.unit("references drift -500 ppm").Outcome, "verified as it is now")
		assert.Equal(s, sequence.DriftedVerified, s.unit("").Why.Code)
		s.memory = new(runner.Memory).Verified(verified) // the lane was restarted
		assert.Equal(s, sequence.DriftedVerified, s.unit("").Why.Code)
	})
}

// timed adds up what routines take by the jig's clock, and apart what those take in which it
// reads itself.
type timed struct {
	*fixture.Jig
	all, itself time.Duration
}

func (j *timed) Perform(ctx context.Context, routines []*fixture.Routine, each func(int, fixture.Done) error) error {
	return j.Jig.Perform(ctx, routines, func(i int, d fixture.Done) error {
		j.all += d.Took()
		if _, is := routines[i].Ops()[0].(wire.Check); is {
			j.itself += d.Took()
		}
		return each(i, d)
	})
}

// What a jig reads of itself for each unit is paid for with little: the cycle with it beside the
// one of before, in which check resistors were read once and nothing else, in one run.
func TestReadingItselfCostsLittle(t *testing.T) {
	for name, most := range map[string]float64{"gcc-20": 1.08, "bay-16": 1.05, "console-104": 1.03} {
		inSession(t, name, 3, func(s *session) {
			s.bench.unpaced = false
			s.sim = s.bench.simulate(s)
			jig, disconnect := simport.Connect(s, s.sim, link.Options{})
			defer disconnect()
			run := &timed{Jig: jig}
			result, err := s.bench.plan(s, jig).Run(context.Background(), run, sequence.Unit{Serial: "T-1", Attempt: 1}, nil)
			require.NoError(s, err)
			require.Equal(s, sequence.Pass, result.Outcome)
			before := &timed{Jig: jig}
			checks := sequence.CheckAgain(jig.Capabilities(), new(fixture.Own), 32).Routine
			require.NoError(s, before.Perform(context.Background(), []*fixture.Routine{checks}, func(int, fixture.Done) error { return nil }))
			old := run.all - run.itself + before.all
			s.Logf("%-11s %v, before %v: %.3f times", name, run.all, old, run.all.Seconds()/old.Seconds())
			assert.Less(s, run.all.Seconds()/old.Seconds(), most)
		})
	}
}

// A leak is a finding only when a patient reading has confirmed it, and a unit near its limit
// passes only by one: whatever surrounds the jig, good units pass or end doubtful, and those
// with a leak are found or end doubtful.
func TestLeaksAreConfirmedPatiently(t *testing.T) {
	random := rand.New(rand.NewPCG(14, 7))
	passed, found := 0, 0
	for i := range *leakUnits {
		name := []string{"gcc-20", "bay-16"}[i%2]
		p := load(t, name)
		around := fmt.Sprintf("mains 50 Hz couples %.2f nA; lines soak %.2f %%; lines hold %.0f pF", 0.2+20*random.Float64(),
			0.5*random.Float64(), 150+800*random.Float64())
		limit := float64(p.Keys[0].Limits.RestMin)
		for faulty, times := range map[bool]float64{false: 1.05 + 0.15*random.Float64(), true: 0.8 + 0.15*random.Float64()} {
			leak := fmt.Sprintf("lines %s %s leak %.0f ohm; ", p.Lines[0].Name, p.Lines[1].Name, limit*times)
			synctest.Test(t, func(t *testing.T) {
				run, _, _ := bench{product: p, faults: leak + around, seed: uint64(i), unpaced: true}.run(t)
				switch {
				case run.Why.Doubtful():
					assert.Equal(t, sequence.Aborted, run.Outcome)
				case faulty:
					assert.Equal(t, sequence.Fail, run.Outcome, "%s%s: %s", leak, around, run.Reason)
					found++
				default:
					assert.Equal(t, sequence.Pass, run.Outcome, "%s%s: %s %v", leak, around, run.Reason, run.Findings)
					passed++
				}
			})
		}
	}
	t.Logf("of %d each: %d good ones passed, %d leaks were found; the others ended doubtful", *leakUnits, passed, found)
	assert.Greater(t, passed, *leakUnits/3)
	assert.Greater(t, found, *leakUnits/3)
}

// A jig that is as it states is never stopped by its self-test: references anywhere within their
// drift, inputs as uncertain as stated, whatever zero and span its converter has.
func TestSelfTestsRaiseNoFalseAlarm(t *testing.T) {
	inSession(t, "gcc-20", 3, func(s *session) {
		caps, random := s.jig.Capabilities(), rand.New(rand.NewPCG(14, 9))
		stage := fixture.Stage{}
		for c := range s.bench.product.Tail {
			stage.Feed = append(stage.Feed, c)
		}
		within := func(most float64) float64 { return most * (2*random.Float64() - 1) }
		verified := s.check()
		before, inputs := *verified, float64(caps.Bias)/math.Sqrt(float64(len(stage.Feed)))
		for range *selfTests {
			s.lay(fmt.Sprintf("references drift %.3f ppm; inputs take %.3f pA; converter gains %.1f ppm; converter shifts %.1f uV",
				within(1e6*caps.Drift), 1e12*inputs*random.NormFloat64(), within(500), within(500)))
			checking := sequence.CheckItself(caps, stage, 32)
			require.NoError(s, s.jig.Perform(context.Background(), []*fixture.Routine{checking.Routine}, func(_ int, d fixture.Done) error {
				_, now := checking.Read(d)
				assert.NoError(s, judge.Doubted(caps, now.Own))
				assert.NoError(s, judge.Drifted(caps, sequence.DriftedVerified, *verified, now, 1))
				assert.NoError(s, judge.Drifted(caps, sequence.DriftedSession, before, now, 2))
				before = now
				return nil
			}))
		}
	})
}
