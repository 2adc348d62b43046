package judge

import (
	"math/bits"

	"padjig/sequence/nets"
)

// Split is one group reading: the lines fed against the lines grounded.
type Split struct{ Feed, Ground []int }

// Splits gives ceil(log2 n) splits of n nets so that every two nets are on
// different sides at least once: split k puts the nets on a side by bit k of
// their number. A keypad at rest has only single-line nets, and ceil(log2 n)
// is the least possible then (Kautz, IEEE Trans. Computers C-23, 1974).
func Splits(nets [][]int) []Split {
	var out []Split
	for k := range bits.Len(uint(max(len(nets), 1) - 1)) {
		var s Split
		for i, net := range nets {
			if i>>k&1 == 0 {
				s.Ground = append(s.Ground, net...)
			} else {
				s.Feed = append(s.Feed, net...)
			}
		}
		out = append(out, s)
	}
	return out
}

// Reversed exchanges the sides, for parts that conduct one way only.
func (s Split) Reversed() Split { return Split{Feed: s.Ground, Ground: s.Feed} }

// Groups are the group readings of a set of nets, in the order in which they are taken:
// each the other way round too where parts conduct one way only.
func (s *Setting) Groups(of *nets.Nets) (out []Split) {
	for _, split := range Splits(of.Of(s.Lines)) {
		out = append(out, split)
		if s.Diodes() {
			out = append(out, split.Reversed())
		}
	}
	return out
}
