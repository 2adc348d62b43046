package diagnose

import (
	"math"
	"slices"
)

// hypothesis is a set of candidates, by ascending index.
type hypothesis struct {
	of    []int
	score float64 // gain of the evidence and priors of all members
	gain  float64
}

// search finds the sets of faults that explain the evidence.
type search struct {
	m     *model
	cands []candidate
	reach []reach
	pool  []hypothesis // best first after run
	seen  map[string]bool
	gains map[string]float64 // of small sets, by signature
}

// reach is what a candidate can move, for telling that two do not meddle.
type reach struct {
	touched
	keys map[int]bool
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

func newSearch(m *model) *search {
	s := &search{m: m, cands: m.candidates(), seen: map[string]bool{}, gains: map[string]float64{}}
	s.cands = s.cands[:min(len(s.cands), mostCandidates)]
	for i := range s.cands {
		t := m.touched(flat([]fault{s.cands[i].fault}))
		r := reach{touched: t, keys: map[int]bool{}}
		for _, k := range t.keys {
			r.keys[k] = true
		}
		s.reach = append(s.reach, r)
	}
	return s
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
			level = bestOf(level, width(size))
		}
		level = s.grown(level)
	}
	s.sort()
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
	s.sort()
}

// prune takes out of the best set what it does not need, and puts what is left before it.
func (s *search) prune() {
	for {
		best := s.pool[0]
		top := best
		for i := range best.of {
			if less := s.hypothesis(slices.Delete(slices.Clone(best.of), i, i+1)); less.score > top.score {
				top = less
			}
		}
		if len(top.of) == len(best.of) {
			return
		}
		s.pool = slices.Insert(s.pool, 0, top)
	}
}

func (s *search) sort() {
	slices.SortStableFunc(s.pool, func(a, b hypothesis) int { return compare(b.score, a.score) })
}

func topScore(level []hypothesis) float64 {
	top := math.Inf(-1)
	for _, h := range level {
		top = max(top, h.score)
	}
	return top
}

func bestOf(level []hypothesis, n int) []hypothesis {
	slices.SortStableFunc(level, func(a, b hypothesis) int { return compare(b.score, a.score) })
	return level[:min(n, len(level))]
}

// grown are the sets of a level with one candidate more.
func (s *search) grown(level []hypothesis) []hypothesis {
	var out []hypothesis
	for _, h := range level {
		for i := range s.cands {
			if slices.Contains(h.of, i) || s.excludes(h.of, i) {
				continue
			}
			of := sorted(h.of, i)
			if key := signature(of); !s.seen[key] {
				s.seen[key] = true
				out = append(out, s.extended(h, i, of))
			}
		}
	}
	return out
}

// extended scores h with candidate i added. Faults that touch different readings add up,
// so only those of h that meddle with i are scored with it anew.
func (s *search) extended(h hypothesis, i int, of []int) hypothesis {
	var near []int
	for _, j := range h.of {
		if s.meddle(i, j) {
			near = append(near, j)
		}
	}
	c := &s.cands[i]
	more := c.gain
	switch {
	case len(near) == len(h.of):
		return s.hypothesis(of)
	case len(near) > 0:
		more = s.gainOf(sorted(near, i)) - s.gainOf(near)
	}
	return hypothesis{of: of, gain: h.gain + more, score: h.score + more + c.prior}
}

// sorted is a set with one member more, by ascending index.
func sorted(of []int, i int) []int {
	more := append(slices.Clone(of), i)
	slices.Sort(more)
	return more
}

// gainOf is the gain of a set, worked out once.
func (s *search) gainOf(of []int) float64 {
	if len(of) == 1 {
		return s.cands[of[0]].gain
	}
	key := signature(of)
	g, known := s.gains[key]
	if !known {
		g = s.m.gain(s.faults(of))
		s.gains[key] = g
	}
	return g
}

func (s *search) meddle(i, j int) bool {
	a, b := &s.reach[i], &s.reach[j]
	if a.rest && b.rest || a.seats && b.seats || a.held && b.held || a.other && b.other {
		return true
	}
	if len(a.keys) > len(b.keys) {
		a, b = b, a
	}
	for k := range a.keys {
		if b.keys[k] {
			return true
		}
	}
	return false
}

// excludes reports faults that cannot be together: two mappings, two contacts of one
// key, two breaks where the second is behind the first, or one cause and its parts.
func (s *search) excludes(of []int, i int) bool {
	f := &s.cands[i].fault
	for _, j := range of {
		if exclude(&s.cands[j].fault, f) {
			return true
		}
	}
	return false
}

func exclude(f, g *fault) bool {
	switch {
	case f.effect == several && g.effect == several:
		return f.cause == g.cause
	case f.effect == moved && g.effect == moved:
		return true
	case f.effect == several:
		return slices.ContainsFunc(f.members, func(p fault) bool { return p.same(g) })
	case g.effect == several:
		return exclude(g, f)
	case f.isSeries() && g.isSeries():
		return f.line == g.line && f.after == g.after || f.effect == parts && g.effect == parts && f.line == g.line
	case f.isKey() && g.isKey() && f.key == g.key:
		return f.effect <= otherContact && g.effect <= otherContact
	}
	return false
}

// hypothesis scores a set anew.
func (s *search) hypothesis(of []int) hypothesis {
	h := hypothesis{of: of, gain: s.gainOf(of)}
	h.score = h.gain
	for _, i := range of {
		h.score += s.cands[i].prior
	}
	return h
}

// faults are copies of the members of a set.
func (s *search) faults(of []int) []fault {
	h := make([]fault, 0, len(of))
	for _, i := range of {
		f := s.cands[i].fault
		f.members = slices.Clone(f.members)
		h = append(h, f)
	}
	return h
}

// settled are the members of a set with their magnitudes as the readings have them.
func (s *search) settled(of []int) []fault {
	h := flat(s.faults(of))
	s.m.fit(h)
	return h
}

func signature(of []int) string {
	b := make([]byte, 0, 2*len(of))
	for _, i := range of {
		b = append(b, byte(i>>8), byte(i))
	}
	return string(b)
}

// replaced adds the sets that the best one becomes when one of its members is exchanged
// for another candidate: they are the ones it must be told apart from.
func (s *search) replaced() {
	best := s.pool[0]
	if len(best.of) < 2 {
		return // all single faults are in the pool
	}
	for slot := range best.of {
		rest := s.hypothesis(slices.Delete(slices.Clone(best.of), slot, slot+1))
		for i := range s.cands {
			if slices.Contains(best.of, i) || s.excludes(rest.of, i) {
				continue
			}
			of := sorted(rest.of, i)
			if key := signature(of); !s.seen[key] {
				s.seen[key] = true
				s.pool = append(s.pool, s.extended(rest, i, of))
			}
		}
	}
	s.sort()
}

// weights are the posterior probabilities of the pool.
func (s *search) weights() []float64 {
	w := make([]float64, len(s.pool))
	sum := 0.0
	for i, h := range s.pool {
		w[i] = math.Exp(h.score - s.pool[0].score)
		sum += w[i]
	}
	for i := range w {
		w[i] /= sum
	}
	return w
}
