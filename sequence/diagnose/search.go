package diagnose

import (
	"cmp"
	"math"
	"slices"

	"padjig/sequence/diagnose/model"
)

// hypothesis is a set of candidates, by ascending index.
type hypothesis struct {
	of    []int
	score float64 // gain of the evidence and priors of all members
	gain  float64
}

// search finds the sets of faults that explain the evidence.
type search struct {
	scorer
	pool []hypothesis // best first after run
	seen map[string]bool
}

// How wide and deep the search goes. Every pair of candidates that explain something is
// tried; only the best sets are grown further, and of large sets only a few: where many
// things are wrong, each is found by what the others leave over.
const (
	mostCandidates = 320
	beam           = 24
	mostFaults     = 48
)

// width is how many sets of a size are grown further.
func width(size int) int {
	if size <= 4 {
		return beam
	}
	return max(beam/size, 2)
}

func newSearch(m *model.Model, cands []candidate) *search {
	cands = cands[:min(len(cands), mostCandidates)]
	return &search{scorer: newScorer(m, cands), seen: map[string]bool{}}
}

// run fills the pool: the empty set, all single faults, all pairs, and from there sets
// grown by one fault as long as that explains more than it costs.
func (s *search) run() {
	s.pool = []hypothesis{{}}
	var level []hypothesis
	for i := range s.cands {
		level = append(level, s.hypothesis([]int{i}))
	}
	best := 0.0
	for size := 2; ; size++ {
		s.pool = append(s.pool, level...)
		top := topScore(level)
		if len(level) == 0 || size > mostFaults || size > 2 && top <= best {
			break
		}
		best = max(best, top)
		if size > 2 {
			sortByScore(level)
			level = level[:min(width(size), len(level))]
		}
		level = s.grown(level)
	}
	sortByScore(s.pool)
	s.exact()
	s.prune()
}

// mostExact is how many of the best sets are scored anew as a whole.
const mostExact = 48

// exact scores the best sets as a whole: grown ones were added up from parts.
func (s *search) exact() {
	for i := range s.pool[:min(len(s.pool), mostExact)] {
		if len(s.pool[i].of) > 2 {
			s.pool[i] = s.hypothesis(s.pool[i].of)
		}
	}
	sortByScore(s.pool)
}

// prune takes out of the best set what it does not need, and puts what is left before it.
func (s *search) prune() {
	for {
		best := s.pool[0]
		top := best
		for i := range best.of {
			if less := s.hypothesis(without(best.of, i)); less.score > top.score {
				top = less
			}
		}
		if len(top.of) == len(best.of) {
			return
		}
		s.pool = slices.Insert(s.pool, 0, top)
	}
}

func sortByScore(sets []hypothesis) {
	slices.SortStableFunc(sets, func(a, b hypothesis) int { return cmp.Compare(b.score, a.score) })
}

func topScore(level []hypothesis) float64 {
	top := math.Inf(-1)
	for _, h := range level {
		top = max(top, h.score)
	}
	return top
}

// grown are the sets of a level with one candidate more.
func (s *search) grown(level []hypothesis) (out []hypothesis) {
	for _, h := range level {
		out = s.add(out, h, nil)
	}
	return out
}

// add appends the sets that h becomes with one candidate more, none of those to leave out,
// as far as they were not seen yet.
func (s *search) add(to []hypothesis, h hypothesis, leave []int) []hypothesis {
	for i := range s.cands {
		if slices.Contains(h.of, i) || slices.Contains(leave, i) || s.excludes(h.of, i) {
			continue
		}
		of := with(h.of, i)
		if key := signature(of); !s.seen[key] {
			s.seen[key] = true
			to = append(to, s.extended(h, i, of))
		}
	}
	return to
}

// replaced adds the sets that the best one becomes when one of its members is exchanged
// for another candidate: they are the ones it must be told apart from.
func (s *search) replaced() {
	best := s.pool[0]
	if len(best.of) < 2 {
		return // all single faults are in the pool
	}
	for slot := range best.of {
		s.pool = s.add(s.pool, s.hypothesis(without(best.of, slot)), best.of)
	}
	sortByScore(s.pool)
}

// total is the logarithm of how likely everything is under the best explanation.
func (s *search) total() float64 {
	t := s.model.Total() + s.pool[0].score
	if wide := s.model.Wide(); wide != nil {
		t += math.Log(kinds[only[wide.Effect]].Prior) - wideRange
	}
	return t
}

// wideRange is what the free size of a fault of the whole panel costs.
const wideRange = 4.0

// excludes reports whether a candidate cannot be together with a set.
func (s *search) excludes(of []int, i int) bool {
	return slices.ContainsFunc(of, func(j int) bool { return s.cands[j].Excludes(&s.cands[i].Fault) })
}

// with is a set with one member more, by ascending index.
func with(of []int, i int) []int {
	more := append(slices.Clone(of), i)
	slices.Sort(more)
	return more
}

// without is a set less its member at a place.
func without(of []int, at int) []int { return slices.Delete(slices.Clone(of), at, at+1) }
