package probes

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/answerstest"
	"padjig/results/care"
	"padjig/results/lines"
	"padjig/results/stats/compare"
	"padjig/sequence"
)

// probeLine is a line of two jigs whose every contact is known.
type probeLine struct {
	entries []results.Entry
	rng     *rand.Rand
	units   int
}

func newProbeLine() *probeLine { return &probeLine{rng: rand.New(rand.NewPCG(1, 2))} }

// pins of the tail, each a line.
const tailPins = 8

// put puts a unit into a jig; the contact at some pins is doubtful, and then it was not
// judged. Loops are some 0.4 ohm, and at a pin more by as much as more says.
func (l *probeLine) put(jig, serial string, more func(pin int) float64, doubtful ...int) *sequence.Run {
	at := answerstest.Begin.Add(time.Duration(len(l.entries)) * time.Minute)
	run := answerstest.Run(answerstest.Vents, serial, at, 50, 50, 50, 50)
	if len(doubtful) > 0 {
		run = answerstest.Ended(run, sequence.Reseat)
	}
	run.Jig.Serial = jig
	for pin := 1; pin <= tailPins; pin++ {
		s := sequence.Seat{Pin: pin, Line: fmt.Sprintf("L%d", pin), Good: !slices.Contains(doubtful, pin),
			Loop: fixture.Resistance{Value: quantity.Ohm(0.4 + 0.02*l.rng.NormFloat64()), U: 0.01}}
		if more != nil {
			s.Loop.Value += quantity.Ohm(more(pin))
		}
		if !s.Good {
			s.Loop = fixture.Resistance{Value: 2e6, AtLeast: true}
		}
		run.Seats = append(run.Seats, s)
	}
	l.entries = append(l.entries, answerstest.Of(answerstest.Vents, run))
	return l.entries[len(l.entries)-1].Run
}

// make makes units, half of them on each jig.
func (l *probeLine) make(n int, each func(jig string, unit int) []int) {
	for range n {
		l.units++
		jig, serial := []string{"J-1", "J-2"}[l.units%2], answerstest.Serial(l.units)
		if bad := each(jig, l.units/2); len(bad) > 0 {
			l.put(jig, serial, nil, bad...)
		}
		l.put(jig, serial, nil)
	}
}

func (l *probeLine) ask(t *testing.T, f lines.Filter) Probes {
	t.Helper()
	f.Simulated = true
	p, err := AskProbes(t.Context(), answerstest.Store(t, l.entries...), ProbesAsked{Selection: answers.Selection{Filter: f}})
	require.NoError(t, err)
	return p
}

// standing are the probes that stand out, with why.
func standing(p Probes) map[string][]answers.Word {
	out := map[string][]answers.Word{}
	for _, r := range p.Rows {
		if len(r.Why) > 0 {
			out[fmt.Sprintf("%s %d", r.Jig, r.Channel)] = r.Why
		}
	}
	return out
}

func codes(p Probes) (list []string) {
	for _, s := range p.Conclusions {
		list = append(list, s.Code)
	}
	return list
}

// A probe is named that is worse than the others of its jig and than the same position
// elsewhere; a pin that is bad on every jig is the tail's, a jig that is bad at every
// pin no probe's, and one unit that was put in again and again is one unit.
func TestProbesThatStandOut(t *testing.T) {
	some := func(p float64, pins ...int) func(rng *rand.Rand) []int {
		return func(rng *rand.Rand) []int {
			if rng.Float64() < p {
				return pins
			}
			return nil
		}
	}
	for name, c := range map[string]struct {
		here, there func(*rand.Rand) []int
		stands      map[string][]answers.Word
		tail        []int
		says        string
	}{
		"nothing":          {some(0.02, 3), some(0.02, 3), map[string][]answers.Word{}, nil, "probes.none"},
		"a probe":          {some(0.12, 3), some(0, 3), map[string][]answers.Word{"J-1 3": {ProbeBad}}, nil, "probes.bad"},
		"a pin everywhere": {some(0.12, 3), some(0.12, 3), map[string][]answers.Word{}, []int{3}, "probes.tail"},
		"a whole jig":      {some(0.12, 1, 2, 3, 4, 5, 6, 7, 8), some(0), map[string][]answers.Word{}, nil, "probes.none"},
	} {
		t.Run(name, func(t *testing.T) {
			l := newProbeLine()
			l.make(500, func(jig string, unit int) []int {
				if jig == "J-1" {
					return c.here(l.rng)
				}
				return c.there(l.rng)
			})
			p := l.ask(t, lines.Filter{})
			if name == "nothing" { // a pin of 2 % is little beside eight of none, and may show as the tail's
				assert.Empty(t, standing(p))
				return
			}
			assert.Equal(t, c.stands, standing(p))
			var tail []int
			for _, pin := range p.Tails {
				if pin.Stands {
					tail = append(tail, pin.Channel)
				}
			}
			assert.Equal(t, c.tail, tail)
			assert.Equal(t, c.says, codes(p)[0])
			assert.Equal(t, "probes.words", codes(p)[len(codes(p))-1])
			assert.Equal(t, 2*tailPins*3+tailPins, p.Compared)
		})
	}
	l := newProbeLine()
	for range 60 { // a unit with an oxidised pin, put in sixty times
		l.put("J-1", answerstest.Serial(9999), nil, 3)
	}
	l.make(400, func(string, int) []int { return nil })
	p := l.ask(t, lines.Filter{})
	assert.Empty(t, standing(p))
	assert.Equal(t, 1, p.Rows[slices.IndexFunc(p.Rows, func(r Probe) bool { return r.Jig == "J-1" && r.Channel == 3 })].BadUnits)

	alone := newProbeLine()
	alone.make(500, func(jig string, _ int) []int { return map[string][]int{"J-1": some(0.12, 3)(alone.rng)}[jig] })
	p = alone.ask(t, lines.Filter{Jigs: []string{"J-1"}})
	assert.Equal(t, map[string][]answers.Word{"J-1 3": {ProbeBad}}, standing(p))
	assert.Contains(t, codes(p), "probes.alone")
	assert.Empty(t, p.Tails)
}

// Fails at a probe that clear on a retest count for it, those that were repaired and those
// that stay do not.
func TestProbesWhoseFailsClear(t *testing.T) {
	l := newProbeLine()
	for unit := range 400 {
		jig, serial := []string{"J-1", "J-2"}[unit%2], answerstest.Serial(unit)
		if unit%2 == 0 && unit%20 == 0 { // ten in a hundred on one jig; the finding names pins 1 and 3
			run := l.put(jig, serial, nil)
			*run = answerstest.Failed(*run, "key high", 0)
		}
		l.put(jig, serial, nil)
	}
	for unit := 1000; unit < 1030; unit++ { // fails that stay
		run := l.put("J-2", answerstest.Serial(unit), nil)
		*run = answerstest.Failed(*run, "key high", 0)
	}
	p := l.ask(t, lines.Filter{})
	assert.Equal(t, map[string][]answers.Word{"J-1 1": {ProbeClears}, "J-1 3": {ProbeClears}}, standing(p))
	assert.Equal(t, []int{20, 0}, []int{p.Rows[0].Cleared, p.Rows[0].ClearedElse})
}

// A loop that rises is seen against those beside it: what all of them do together, as
// with another lot of tails or a warm day, is no rise of a probe.
func TestProbesWhoseLoopsRise(t *testing.T) {
	l := newProbeLine()
	for unit := range 400 {
		l.put([]string{"J-1", "J-2"}[unit%2], answerstest.Serial(unit), func(pin int) float64 {
			more := 0.3 * float64(unit) / 400
			if pin == 5 && unit%2 == 0 {
				more += 0.08 * float64(unit) / 400
			}
			return more
		})
	}
	p := l.ask(t, lines.Filter{})
	assert.Equal(t, map[string][]answers.Word{"J-1 5": {ProbeRises}}, standing(p))
	assert.Greater(t, p.Rows[0].Last, p.Rows[0].First)
	assert.Positive(t, p.Rows[0].Rise.Low)
}

// What was before a probe set was put in is another's; its spread before and after is
// compared, run by run.
func TestProbesAfterAChangeOfTips(t *testing.T) {
	l := newProbeLine()
	set := func(name, tip string) {
		l.entries = append(l.entries, results.Entry{At: answerstest.Begin.Add(time.Duration(len(l.entries)) * time.Minute),
			Wear: &care.WearEvent{Jig: "J-1", Part: care.ProbeSet, Simulated: true, Name: name, Tip: tip, By: "Ines"}})
	}
	set("PS-1", "round")
	noisy := func(int) float64 { return 0.1 * l.rng.Float64() }
	for unit := range 120 {
		l.put("J-1", answerstest.Serial(unit), noisy)
		if unit%6 == 0 {
			l.put("J-1", answerstest.Serial(unit), nil, 3)
		}
		l.put("J-2", answerstest.Serial(1000+unit), nil)
	}
	set("PS-2", "crown")
	for unit := range 120 {
		l.put("J-1", answerstest.Serial(2000+unit), nil)
		l.put("J-2", answerstest.Serial(3000+unit), nil)
	}
	p := l.ask(t, lines.Filter{})
	assert.Empty(t, standing(p), "the probe that was bad is not there any more")
	i := slices.IndexFunc(p.Rows, func(r Probe) bool { return r.Jig == "J-1" && r.Channel == 3 })
	assert.Equal(t, []any{"PS-2", "crown", 120, 0}, []any{p.Rows[i].Set, p.Rows[i].Tip, p.Rows[i].Units, p.Rows[i].BadUnits})
	require.Len(t, p.Changes, 1)
	c := p.Changes[0]
	assert.Equal(t, []any{"J-1", "PS-1 (round)", "PS-2 (crown)", answers.LoopWindow, answers.LoopWindow, true},
		[]any{c.Jig, c.Was, c.Is, c.Before, c.After, c.Differs})
	assert.Greater(t, c.SpreadBefore, 1.3*c.SpreadAfter)
	assert.Contains(t, codes(p), "probes.change")
}

// Tables of pure chance: 64 probes on each of two jigs, 10,000 runs, at rates as a line
// has them. The promise is that fewer than 5 % of them name anything; drawn from a seed,
// so that it is the same each time.
func TestProbesOfPureChance(t *testing.T) {
	const tables, probes, unitsOf, confidence = 300, 64, 5000, 0.95
	rng := rand.New(rand.NewPCG(20261129, 1))
	named := 0
	for table := range tables {
		rate := []float64{0.0005, 0.003, 0.02}[table%3]
		tally := &probeTally{jigs: map[string]map[int]*channelTally{}}
		for _, jig := range []string{"J-1", "J-2"} {
			tally.jigs[jig] = map[int]*channelTally{}
			for channel := 1; channel <= probes; channel++ {
				c := &channelTally{units: many(unitsOf), bad: many(binomial(rng, unitsOf, rate)), cleared: many(binomial(rng, unitsOf, rate/2))}
				if table < 20 { // loops take their time
					for range 2 * answers.LoopWindow {
						c.besideOthers = append(c.besideOthers, rng.NormFloat64())
					}
				}
				tally.jigs[jig][channel] = c
			}
		}
		p := Probes{Jigs: 2, ProbesAsked: ProbesAsked{Selection: answers.Selection{Confidence: confidence}}}
		p.Rows, p.Tails = tally.probes(p.Selection)
		p.judge(tally)
		if len(standing(p)) > 0 || slices.ContainsFunc(p.Tails, func(t TailPin) bool { return t.Stands }) {
			named++
		}
	}
	t.Logf("%d of %d tables name something", named, tables)
	assert.LessOrEqual(t, named, tables*5/100)
	assert.Positive(t, named, "a test that never errs finds nothing either")
}

var serialsOfMany = func() (all []string) {
	for i := range 5000 {
		all = append(all, answerstest.Serial(i))
	}
	return all
}()

func many(n int) map[string]bool {
	if n == 5000 {
		return everyUnit
	}
	all := make(map[string]bool, n)
	for _, serial := range serialsOfMany[:n] {
		all[serial] = true
	}
	return all
}

var everyUnit = func() map[string]bool {
	all := map[string]bool{}
	for _, serial := range serialsOfMany {
		all[serial] = true
	}
	return all
}()

func binomial(rng *rand.Rand, n int, p float64) (x int) {
	for at := 0; ; x++ { // how many come before the next one is geometric
		at += int(math.Log(1-rng.Float64())/math.Log(1-p)) + 1
		if at > n {
			return x
		}
	}
}

// The one-sided chance against a published example: of eight cups four were milk first, and
// three of them were told (Fisher 1935, The Design of Experiments, chapter II): 17/70.
func TestMoreThanIsFishersChance(t *testing.T) {
	p, err := compare.FisherGreater(compare.Table2{{3, 1}, {1, 3}})
	require.NoError(t, err)
	assert.InDelta(t, 17.0/70, p, 1e-12)
	assert.InDelta(t, 17.0/70, moreThan(3, 4, 1, 4), 1e-12)
	for _, table := range []compare.Table2{{{10, 90}, {3, 97}}, {{0, 5}, {2, 9}}, {{7, 0}, {2, 2}}} {
		whole, err := compare.Fisher(table, 0.95)
		require.NoError(t, err)
		p, err := compare.FisherGreater(table)
		require.NoError(t, err)
		assert.InDelta(t, whole.Greater, p, 1e-14)
	}
	assert.InDelta(t, 1, moreThan(0, 9, 3, 9), 0)
	assert.InDelta(t, 1, moreThan(3, 9, 0, 0), 0)
}
