package diagnose

import (
	"slices"

	"padjig/sequence/diagnose/model"
	"padjig/sequence/diagnose/readings"
	"padjig/sequence/exchange"
)

// layouts are those worth trying on what was read elsewhere: the tail off its place by
// up to two pins, turned round, any two of the lines that were found connected, and the
// other products.
func layouts(u *readings.Unit) []*model.Layout {
	p := u.Product
	var all []*model.Layout
	for _, n := range []int{1, -1, 2, -2} {
		if max(n, -n) < len(p.Tail) {
			all = append(all, model.Shift(p, n))
		}
	}
	all = append(all, model.Mirror(p))
	swaps := swapsOf(u)
	all = append(all, swaps...)
	if len(swaps) > 1 && len(u.Held) > 3 {
		all = append(all, twoSwaps(u, swaps)...)
	}
	for _, q := range u.Known {
		if q.Hash() != p.Hash() {
			all = append(all, model.Replaced(p, q))
		}
	}
	return all
}

// swapsOf are all exchanges of two lines that were found connected elsewhere.
func swapsOf(u *readings.Unit) []*model.Layout {
	p := u.Product
	involved, unknown := map[int]bool{}, false
	note := func(k int, lines ...int) {
		for _, l := range append(lines, p.Keys[k].A, p.Keys[k].B) {
			involved[l] = true
		}
	}
	for _, h := range u.Held {
		note(h.Key, h.Lines[0], h.Lines[1])
	}
	for k := range u.Keys {
		if key := &u.Keys[k]; key.State == readings.Reversed || key.Stray {
			note(k)
			unknown = unknown || key.Stray // with which line, nobody looked
		}
	}
	var out []*model.Layout
	for _, s := range exchange.Swaps(len(p.Lines), involved, unknown) {
		if p.Lines[s[0]].Pin > 0 && p.Lines[s[1]].Pin > 0 {
			out = append(out, model.Swap(p, s[0], s[1]))
		}
	}
	return out
}

// twoSwaps are the pairs of exchanges that share no line.
func twoSwaps(u *readings.Unit, swaps []*model.Layout) (out []*model.Layout) {
	const most = 40 // exchanges: beyond, only those that explain most of what was found elsewhere
	if len(swaps) > most {
		explained := func(s *model.Layout) (n int) {
			for _, h := range u.Held {
				if s.At(h.Key).Are(h.Lines[0], h.Lines[1]) {
					n++
				}
			}
			return n
		}
		swaps = slices.Clone(swaps)
		slices.SortStableFunc(swaps, func(a, b *model.Layout) int { return explained(b) - explained(a) })
		swaps = swaps[:most]
	}
	for i, s := range swaps {
		for _, t := range swaps[:i] {
			if !slices.ContainsFunc(s.Lines, func(l int) bool { return slices.Contains(t.Lines, l) }) {
				out = append(out, s.And(t, u.Product))
			}
		}
	}
	return out
}
