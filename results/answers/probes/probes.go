// Package probes is the question which probes of the jigs stand out: by doubtful contact, by fails that
// clear, by loops that rise, against the others of the jig and the same place on other jigs.
package probes

import (
	"cmp"
	"context"
	"maps"
	"math"
	"slices"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/care"
	"padjig/results/lines"
	"padjig/results/stats"
	"padjig/results/stats/compare"
)

// ProbesAsked asks which probes of the jigs stand out.
type ProbesAsked struct {
	answers.Selection
	Runs int // newest runs looked at; 0: [answers.ProbeRuns]
}

// Probes is the contact of the jigs to the tails, channel by channel. A channel is one
// probe of a jig, or with two probes a line their loop. Since a part was put in anew,
// what was before is another probe's.
type Probes struct {
	ProbesAsked
	Rows        []Probe // those that stand out first
	Tails       []TailPin
	Changes     []TipChange
	Looked      int // runs
	Jigs        int
	Compared    int // comparisons that were adjusted together
	Conclusions []answers.Sentence
}

// Probe is one channel of one jig.
type Probe struct {
	Jig     string
	Channel int
	Line    string
	Set     string // name of the probe set that serves it; empty: none is recorded
	Tip     string

	Runs        [2]int64 // numbers of the first and of the last run looked at since its set was put in
	Units       int      // seen
	BadUnits    int      // of them with doubtful contact here at least once
	Bad         answers.Estimate
	Others      answers.Estimate // the same of all other channels of this jig
	Elsewhere   answers.Estimate // and of this channel on the other jigs
	Cleared     int              // units that failed here and passed the next time, without rework
	ClearedElse int              // the same on the other jigs
	Loops       int              // resistances read
	Median      float64          // ohm, of all loops
	First, Last float64          // medians of the first and of the last of them
	Rise        answers.Estimate // last less first, against the other channels of the same runs (Hodges and Lehmann)

	P    answers.Chance // the smallest of its comparisons, adjusted (Holm)
	Why  []answers.Word // what stands out; none: nothing does
	tail [4]int         // units and bad units elsewhere, units and bad units of the others
}

// TailPin is one pin of the tail beside all others, on all jigs together. It stands out
// where it does on two jigs at least, beside the others of each.
type TailPin struct {
	Channel     int
	Line        string
	Bad, Others answers.Estimate
	P           answers.Chance
	Stands      bool
}

// TipChange is a probe set that took another's place: the loops before and after.
type TipChange struct {
	Jig, Part                 string
	Was, Is                   string // name and tips
	AfterRun                  int64
	Before, After             int // runs
	MedianBefore, MedianAfter float64
	SpreadBefore, SpreadAfter float64        // mean deviation of a run's loops from the medians of their channels, ohm
	P                         answers.Chance // that the spreads are alike (Mann and Whitney), adjusted after Holm
	Differs                   bool
}

// Why a probe stands out.
const (
	ProbeBad    = answers.Word("probe.bad")
	ProbeClears = answers.Word("probe.clears")
	ProbeRises  = answers.Word("probe.rises")
)

// AskProbes compares every probe with the others of its jig and with the same position
// on the other jigs.
func AskProbes(ctx context.Context, s *results.Store, a ProbesAsked) (Probes, error) {
	a.Runs = cmp.Or(a.Runs, answers.ProbeRuns)
	p := Probes{ProbesAsked: a}
	found, err := s.Lines.Probes(ctx, a.Filter, a.Runs)
	if err != nil {
		return p, err
	}
	if len(found.Runs) == 0 {
		return p, a.NoUnits()
	}
	if len(found.Mixed.Products) > 1 {
		return p, &lines.MixedError{Mixture: found.Mixed}
	}
	sets, err := s.Care.ProbeSets(ctx, a.Filter.Simulated)
	if err != nil {
		return p, err
	}
	p.Looked = len(found.Runs)
	t := newProbeTally(found, sets)
	p.Jigs = len(t.jigs)
	p.Rows, p.Tails = t.probes(a.Selection)
	p.judge(t)
	p.Changes = t.changes(a.Selection)
	p.Conclusions = p.words()
	return p, nil
}

// probeTally counts what happened at each channel of each jig.
type probeTally struct {
	found lines.ProbeRuns
	sets  []care.WearEvent
	jigs  map[string]map[int]*channelTally
}

type channelTally struct {
	set          care.WearEvent // that serves it; no name where none is recorded
	runs         [2]int64       // the first and the last one looked at
	units, bad   map[string]bool
	cleared      map[string]bool
	loops        []float64 // read, in the order of the runs
	besideOthers []float64 // of them less the median of the run
}

func newProbeTally(found lines.ProbeRuns, sets []care.WearEvent) *probeTally {
	t := &probeTally{found, sets, map[string]map[int]*channelTally{}}
	for _, r := range found.Runs {
		t.add(r)
	}
	return t
}

func (t *probeTally) add(r lines.ProbeRun) {
	if t.jigs[r.Jig] == nil {
		t.jigs[r.Jig] = map[int]*channelTally{}
	}
	middle := medianLoop(r.Loops)
	for _, l := range r.Loops {
		c := t.jigs[r.Jig][l.Channel]
		if c == nil {
			c = &channelTally{units: map[string]bool{}, bad: map[string]bool{}, cleared: map[string]bool{}, set: t.setAt(r.Jig, l.Channel)}
			t.jigs[r.Jig][l.Channel] = c
		}
		if r.Run <= c.set.AfterRun {
			continue // another's
		}
		if c.runs[0] == 0 {
			c.runs[0] = r.Run
		}
		c.runs[1] = r.Run
		c.units[r.Unit] = true
		if !l.Good {
			c.bad[r.Unit] = true
		} else if !math.IsInf(l.Ohm, 0) {
			c.loops, c.besideOthers = append(c.loops, l.Ohm), append(c.besideOthers, l.Ohm-middle)
		}
		if slices.Contains(r.Cleared, l.Channel) {
			c.cleared[r.Unit] = true
		}
	}
}

// setAt is the probe set that serves a channel of a jig now.
func (t *probeTally) setAt(jig string, channel int) (at care.WearEvent) {
	for _, e := range t.sets {
		switch {
		case e.Jig != jig:
		case e.Removed && e.Part == at.Part:
			at = care.WearEvent{AfterRun: e.AfterRun}
		case !e.Removed && e.Reaches(channel):
			at = e
		}
	}
	return at
}

func medianLoop(loops []lines.ProbeLoop) float64 {
	var good []float64
	for _, l := range loops {
		if l.Good && !math.IsInf(l.Ohm, 0) {
			good = append(good, l.Ohm)
		}
	}
	return middleOf(good)
}

func middleOf(values []float64) float64 {
	m, err := stats.Quantile(values, 0.5)
	if err != nil {
		return math.NaN()
	}
	return m
}

// probes puts each channel beside the others of its jig and the same on other jigs.
func (t *probeTally) probes(s answers.Selection) (rows []Probe, tails []TailPin) {
	all := map[int]*[2]int{} // units and bad ones by channel, on all jigs
	ofJig := map[string]*[2]int{}
	var total [2]int
	for jig, channels := range t.jigs {
		ofJig[jig] = new([2]int)
		for channel, c := range channels {
			if all[channel] == nil {
				all[channel] = new([2]int)
			}
			for _, sum := range []*[2]int{all[channel], ofJig[jig], &total} {
				sum[0], sum[1] = sum[0]+len(c.units), sum[1]+len(c.bad)
			}
		}
	}
	for _, jig := range slices.Sorted(maps.Keys(t.jigs)) {
		for _, channel := range slices.Sorted(maps.Keys(t.jigs[jig])) {
			c := t.jigs[jig][channel]
			n, x := len(c.units), len(c.bad)
			else_, others := [2]int{all[channel][0] - n, all[channel][1] - x}, [2]int{ofJig[jig][0] - n, ofJig[jig][1] - x}
			p := Probe{Jig: jig, Channel: channel, Line: t.found.Lines[channel], Set: c.set.Name, Tip: c.set.Tip, Runs: c.runs, Units: n, BadUnits: x,
				Bad: s.Share(x, n), Others: s.Share(others[1], others[0]), Elsewhere: s.Share(else_[1], else_[0]),
				Cleared: len(c.cleared), ClearedElse: t.clearedElsewhere(jig, channel),
				Loops: len(c.loops), Median: middleOf(c.loops), First: math.NaN(), Last: math.NaN(), Rise: answers.Unknown(),
				tail: [4]int{else_[0], else_[1], others[0], others[1]}}
			if k := min(len(c.loops)/2, answers.LoopWindow); k > 0 {
				p.First, p.Last = middleOf(c.loops[:k]), middleOf(c.loops[len(c.loops)-k:])
			}
			rows = append(rows, p)
		}
	}
	if len(t.jigs) > 1 {
		for _, channel := range slices.Sorted(maps.Keys(all)) {
			a := all[channel]
			tails = append(tails, TailPin{Channel: channel, Line: t.found.Lines[channel], Bad: s.Share(a[1], a[0]),
				Others: s.Share(total[1]-a[1], total[0]-a[0]), P: answers.Chance(onTwoJigs(rows, channel))})
		}
	}
	return rows, tails
}

// onTwoJigs is the chance that a channel differs from the others on fewer than two jigs:
// the second smallest of the jigs' chances, times one less than there are (Benjamini and
// Heller 2008, partial conjunction after Bonferroni).
func onTwoJigs(rows []Probe, channel int) float64 {
	var chances []float64
	for _, r := range rows {
		if r.Channel == channel {
			chances = append(chances, r.beside())
		}
	}
	if len(chances) < 2 {
		return 1
	}
	slices.Sort(chances)
	return min(1, chances[1]*float64(len(chances)-1))
}

// beside is the chance of so much doubtful contact beside the other channels of the jig.
func (r Probe) beside() float64 { return moreThan(r.BadUnits, r.Units, r.tail[3], r.tail[2]) }

func (t *probeTally) clearedElsewhere(jig string, channel int) (n int) {
	for other, channels := range t.jigs {
		if c := channels[channel]; c != nil && other != jig {
			n += len(c.cleared)
		}
	}
	return n
}

// moreThan is the chance of as many as x of n, or more, where both groups are alike
// (Fisher, one-sided).
func moreThan(x, n, otherX, otherN int) float64 {
	if x == 0 || n == 0 || otherN == 0 {
		return 1
	}
	p, err := compare.FisherGreater(compare.Table2{{x, n - x}, {otherX, otherN - otherX}})
	if err != nil { // no table: nothing speaks for a difference
		return 1
	}
	return p
}

// judge adjusts all comparisons together. Doubtful contact must stand out against both
// the other probes of the jig and the same position elsewhere, so that neither a pin that
// is bad on every jig nor a jig that is bad at every pin is called a probe: of the two
// chances the larger counts (an intersection-union test, which needs no adjustment of
// its own). Fails that clear are compared with other jigs alone, since some lines have more keys
// than others. A rise is that of the last loops over the first, of each run less the median of
// its channels, so that what all of them do together is no rise.
func (p *Probes) judge(t *probeTally) {
	type at struct {
		row int // of the rows, or of the tails where why is empty
		why answers.Word
	}
	var tests []at
	var chances []float64
	add := func(row int, why answers.Word, chance float64) {
		tests, chances = append(tests, at{row, why}), append(chances, chance)
	}
	laws := compare.RankLaws{} // most channels were read as often as the others
	for i := range p.Rows {
		r := &p.Rows[i]
		others := r.beside()
		if p.Jigs > 1 {
			add(i, ProbeBad, max(others, moreThan(r.BadUnits, r.Units, r.tail[1], r.tail[0])))
			add(i, ProbeClears, moreThan(r.Cleared, r.Units, r.ClearedElse, r.tail[0]))
		} else {
			add(i, ProbeBad, others)
		}
		if chance, ok := r.rises(t.jigs[r.Jig][r.Channel].besideOthers, p.Selection, laws); ok {
			add(i, ProbeRises, chance)
		}
		r.P = answers.Chance(math.NaN())
	}
	for i := range p.Tails {
		add(i, "", float64(p.Tails[i].P))
	}
	p.Compared = len(tests)
	for i, adjusted := range compare.Holm(chances) {
		stands := adjusted < p.Alpha()
		if tests[i].why == "" {
			p.Tails[tests[i].row].P, p.Tails[tests[i].row].Stands = answers.Chance(adjusted), stands
			continue
		}
		r := &p.Rows[tests[i].row]
		if !(float64(r.P) <= adjusted) {
			r.P = answers.Chance(adjusted)
		}
		if stands {
			r.Why = append(r.Why, tests[i].why)
		}
	}
	slices.SortStableFunc(p.Rows, func(a, b Probe) int {
		return cmp.Or(cmp.Compare(min(len(b.Why), 1), min(len(a.Why), 1)), cmp.Compare(float64(a.P), float64(b.P)))
	})
}

// rises tests whether the last loops are larger than the first.
func (r *Probe) rises(besides []float64, s answers.Selection, laws compare.RankLaws) (chance float64, ok bool) {
	k := min(len(besides)/2, answers.LoopWindow)
	if k < answers.LeastLoops {
		return 0, false
	}
	test, err := laws.MannWhitney(besides[len(besides)-k:], besides[:k], s.Level())
	if err != nil {
		return 0, false
	}
	r.Rise = answers.EstimateOf(test.Shift, test.Shifts)
	return test.Greater, true
}

// changes compares loops before and after a probe set took another's place: one number
// a run, so that the channels of a run do not count as if they were many runs.
func (t *probeTally) changes(s answers.Selection) (out []TipChange) {
	var chances []float64
	last := map[[2]string]care.WearEvent{}
	for _, e := range t.sets {
		at := [2]string{e.Jig, e.Part}
		was, known := last[at]
		last[at] = e
		if !known || e.Removed || was.Removed {
			continue
		}
		c := TipChange{Jig: e.Jig, Part: e.Part, Was: setName(was), Is: setName(e), AfterRun: e.AfterRun}
		before, after := t.loopsOf(e, was.AfterRun, e.AfterRun), t.loopsOf(e, e.AfterRun, t.untilNext(e))
		c.Before, c.After = len(before), len(after)
		var spreadBefore, spreadAfter []float64
		c.MedianBefore, spreadBefore = spreadOf(before)
		c.MedianAfter, spreadAfter = spreadOf(after)
		c.SpreadBefore, c.SpreadAfter = middleOf(spreadBefore), middleOf(spreadAfter)
		chance := math.NaN()
		if min(c.Before, c.After) >= answers.LeastLoops {
			if test, err := compare.MannWhitney(spreadAfter, spreadBefore, s.Level()); err == nil {
				chance = test.P
			}
		}
		out, chances = append(out, c), append(chances, chance)
	}
	for i, adjusted := range compare.Holm(chances) {
		out[i].P, out[i].Differs = answers.Chance(adjusted), adjusted < s.Alpha()
	}
	return out
}

func setName(e care.WearEvent) string {
	if e.Tip == "" {
		return e.Name
	}
	return e.Name + " (" + e.Tip + ")"
}

func (t *probeTally) untilNext(e care.WearEvent) int64 {
	for _, later := range t.sets {
		if later.Jig == e.Jig && later.Part == e.Part && later.AfterRun > e.AfterRun {
			return later.AfterRun
		}
	}
	return math.MaxInt64
}

// loopsOf are the loops under a probe set in the runs nearest to its change, run by run.
func (t *probeTally) loopsOf(e care.WearEvent, after, upTo int64) (runs [][]lines.ProbeLoop) {
	for _, r := range t.found.Runs {
		if r.Jig != e.Jig || r.Run <= after || r.Run > upTo {
			continue
		}
		good := slices.DeleteFunc(slices.Clone(r.Loops), func(l lines.ProbeLoop) bool {
			return !l.Good || math.IsInf(l.Ohm, 0) || !e.Reaches(l.Channel)
		})
		if len(good) > 0 {
			runs = append(runs, good)
		}
	}
	if len(runs) > answers.LoopWindow && upTo == e.AfterRun {
		return runs[len(runs)-answers.LoopWindow:]
	}
	return runs[:min(len(runs), answers.LoopWindow)]
}

// spreadOf is the median of all loops, and run by run how far its loops lie from the
// medians of their channels on average.
func spreadOf(runs [][]lines.ProbeLoop) (middle float64, spreads []float64) {
	var all []float64
	of := map[int][]float64{}
	for _, run := range runs {
		for _, l := range run {
			all, of[l.Channel] = append(all, l.Ohm), append(of[l.Channel], l.Ohm)
		}
	}
	middles := map[int]float64{}
	for channel, loops := range of {
		middles[channel] = middleOf(loops)
	}
	for _, run := range runs {
		sum := 0.0
		for _, l := range run {
			sum += math.Abs(l.Ohm - middles[l.Channel])
		}
		spreads = append(spreads, sum/float64(len(run)))
	}
	return middleOf(all), spreads
}

func (p Probes) words() (out []answers.Sentence) {
	for _, r := range p.Rows {
		for _, why := range r.Why {
			switch why {
			case ProbeBad:
				out = append(out, answers.Warn("probes.bad", r.Channel, r.Line, r.Jig, r.BadUnits, r.Units, answers.Part(r.Others), answers.Part(r.Elsewhere)))
			case ProbeClears:
				out = append(out, answers.Warn("probes.clears", r.Channel, r.Line, r.Jig, r.Cleared, r.Units, r.ClearedElse, r.tail[0]))
			case ProbeRises:
				out = append(out, answers.Warn("probes.rises", r.Channel, r.Line, r.Jig, answers.Figure(r.First), answers.Figure(r.Last)))
			}
		}
	}
	for _, t := range p.Tails {
		if t.Stands {
			out = append(out, answers.Warn("probes.tail", t.Channel, t.Line, answers.Part(t.Bad), answers.Part(t.Others)))
		}
	}
	if out == nil {
		out = append(out, answers.Say("probes.none", len(p.Rows), p.Jigs, p.Looked))
	}
	for _, c := range p.Changes {
		switch {
		case c.Differs:
			out = append(out, answers.Warn("probes.change", c.Was, c.Is, c.Jig, answers.Figure(c.SpreadBefore), answers.Figure(c.SpreadAfter)))
		case math.IsNaN(float64(c.P)):
			out = append(out, answers.Say("probes.change.few", c.Was, c.Is, c.Jig, answers.LeastLoops))
		default:
			out = append(out, answers.Say("probes.change.none", c.Was, c.Is, c.Jig))
		}
	}
	if p.Jigs == 1 {
		out = append(out, answers.Say("probes.alone"))
	}
	return append(out, answers.Say("probes.words", p.Compared, answers.Percent{Value: p.Alpha()}))
}
