package diagnose

import (
	"slices"

	"padjig/sequence/diagnose/model"
)

// scorer says how likely sets of candidates are.
type scorer struct {
	model *model.Model
	cands []candidate
	reach []reach
	gains map[string]float64 // of small sets, by signature
}

// reach is what a candidate can move, for telling that two do not meddle.
type reach struct {
	model.Touched
	keys map[int]bool
}

func newScorer(m *model.Model, cands []candidate) scorer {
	s := scorer{model: m, cands: cands, gains: map[string]float64{}}
	for i := range cands {
		r := reach{m.Touched(model.Hypothesis{cands[i].Fault}), map[int]bool{}}
		for _, k := range r.Keys {
			r.keys[k] = true
		}
		s.reach = append(s.reach, r)
	}
	return s
}

// hypothesis scores a set anew.
func (s *scorer) hypothesis(of []int) hypothesis {
	h := hypothesis{of: of, gain: s.gain(of)}
	h.score = h.gain
	for _, i := range of {
		h.score += s.cands[i].prior
	}
	return h
}

// extended scores h with candidate i added. Faults that touch different readings add up,
// so only those of h that meddle with i are scored with it anew.
func (s *scorer) extended(h hypothesis, i int, of []int) hypothesis {
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
		more = s.gain(with(near, i)) - s.gain(near)
	}
	return hypothesis{of: of, gain: h.gain + more, score: h.score + more + c.prior}
}

// gain is that of a set, worked out once.
func (s *scorer) gain(of []int) float64 {
	if len(of) == 1 {
		return s.cands[of[0]].gain
	}
	key := signature(of)
	g, known := s.gains[key]
	if !known {
		g = s.model.Gain(faultsOf(s.cands, of))
		s.gains[key] = g
	}
	return g
}

// meddle reports whether two candidates move the same readings.
func (s *scorer) meddle(i, j int) bool {
	a, b := &s.reach[i], &s.reach[j]
	for sort := range a.All {
		if a.All[sort] && b.All[sort] {
			return true
		}
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

// faultsOf are copies of the members of a set.
func faultsOf(cands []candidate, of []int) model.Hypothesis {
	h := make(model.Hypothesis, 0, len(of))
	for _, i := range of {
		f := cands[i].Fault
		f.Members = slices.Clone(f.Members)
		h = append(h, f)
	}
	return h
}

func signature(of []int) string {
	b := make([]byte, 0, 2*len(of))
	for _, i := range of {
		b = append(b, byte(i>>8), byte(i))
	}
	return string(b)
}
