package samepad

import (
	"cmp"
	"math"
	"slices"
)

// Searched is a pad among many that one is looked for in.
type Searched struct {
	Of  int64 // a number of its run
	Jig int64 // on which it was read
	Pad Pad
}

// Hit is one that was compared in full.
type Hit struct {
	Searched
	Ratio
	Basis Basis // what the difference of its jig to the one here is known from
}

// Search looks for a pad among many, of which it keeps those that lie nearest, and compares these in full. It is
// used by one at a time.
//
// What is near is told by the mean square of the keys' differences as [Lot] has them, each counting nine at most,
// with the jigs' differences off. That orders pads nearly as ratios do, at a hundredth of the work.
type Search struct {
	pad     Pad
	logs    []float64
	scatter Scatter
	jigs    map[int64]*beside
	all     beside // what all jigs together show, for those that show too little
	kept    []Searched
	far     []float64 // how far each of kept lies, a heap with the farthest first
	seen    int
	work    []float64 // of one distance, and the two below
	weights []float64
	sorted  []float64
}

// beside is a jig beside the one here.
type beside struct {
	offset Offset
	lot    Lot
	inv    []float64 // by key: 1/(2 between²), 0 where nothing is known
}

// Kept is how many of the nearest are compared in full.
const Kept = 256

// learned is how many pads of a jig its own spread of pads is learned from at least, and newest at most.
const learned, newest = 12, 30

// NewSearch begins to look for a pad that was read on the jig of a number. jigs are all on which others were
// read, that jig among them if it has read anything; pads of each in the order of their tests.
func NewSearch(pad Pad, here int64, jigs map[int64]Jig, s Scatter) *Search {
	w := &Search{pad: pad, scatter: s, jigs: map[int64]*beside{}, logs: pad.Logs()}
	numbers := make([]int64, 0, len(jigs))
	for number := range jigs {
		numbers = append(numbers, number)
	}
	slices.Sort(numbers)
	var together []Pad
	for _, number := range numbers {
		b := &beside{offset: Offset{Basis: SameJig}}
		if number != here {
			b.offset = OffsetOf(jigs[number], jigs[here])
		}
		w.jigs[number] = b
		pads := jigs[number].Pads
		if len(pads) >= learned {
			b.lot = LotOf(pads[max(0, len(pads)-newest):], s)
		}
		for _, p := range pads[max(0, len(pads)-learned):] {
			together = append(together, p.Off(b.offset))
		}
	}
	w.all = beside{offset: Offset{Basis: NotKnown}, lot: LotOf(together[max(0, len(together)-2*newest):], s)}
	w.all.weigh()
	for _, number := range numbers {
		b := w.jigs[number]
		if len(jigs[number].Pads) < learned {
			b.lot = w.all.lot
		}
		b.weigh()
	}
	return w
}

func (b *beside) weigh() {
	b.inv = make([]float64, len(b.lot.Between))
	for k, sd := range b.lot.Between {
		if sd > 0 {
			b.inv[k] = 1 / (2 * sd * sd)
		}
	}
}

func (w *Search) beside(jig int64) *beside {
	if b := w.jigs[jig]; b != nil {
		return b
	}
	return &w.all
}

// Look looks at one more, by the logarithms of what its keys read, not a number where there is none to compare. pad
// is asked for it in full if it is kept.
func (w *Search) Look(of, jig int64, logs []float64, pad func() Pad) {
	w.seen++
	far := w.distance(jig, logs)
	if math.IsInf(far, 1) || len(w.kept) == Kept && far >= w.far[0] {
		return
	}
	one := Searched{Of: of, Jig: jig, Pad: pad()}
	if len(w.kept) < Kept {
		w.kept, w.far = append(w.kept, one), append(w.far, far)
		for i := len(w.far) - 1; i > 0; {
			up := (i - 1) / 2
			if w.far[up] >= w.far[i] {
				break
			}
			w.swap(i, up)
			i = up
		}
		return
	}
	w.kept[0], w.far[0] = one, far
	for i := 0; ; {
		next := 2*i + 1
		if next >= len(w.far) {
			break
		}
		if next+1 < len(w.far) && w.far[next+1] > w.far[next] {
			next++
		}
		if w.far[i] >= w.far[next] {
			break
		}
		w.swap(i, next)
		i = next
	}
}

func (w *Search) swap(i, j int) {
	w.kept[i], w.kept[j] = w.kept[j], w.kept[i]
	w.far[i], w.far[j] = w.far[j], w.far[i]
}

// distance is the mean square; infinite where too few keys were read twice or nothing is known of what pads differ by.
func (w *Search) distance(jig int64, logs []float64) float64 {
	b := w.beside(jig)
	d, inv := w.work[:0], w.weights[:0]
	for k := range min(len(w.logs), len(logs), len(b.inv)) {
		v := logs[k] - w.logs[k]
		if v != v || b.inv[k] == 0 { // not a number
			continue
		}
		if k < len(b.offset.Log) {
			v -= b.offset.Log[k]
		}
		d, inv = append(d, v), append(inv, b.inv[k])
	}
	w.work, w.weights = d, inv
	if len(d) < LeastKeys {
		return math.Inf(1)
	}
	w.sorted = append(w.sorted[:0], d...)
	common, sum := median(w.sorted), 0.0
	for k, v := range d {
		sum += min(square(v-common)*inv[k], clip*clip)
	}
	return sum / float64(len(d))
}

// Logs are the logarithms of a pad's readings, not a number where there is none, as [Search.Look] takes them.
func (p Pad) Logs() []float64 {
	logs := make([]float64, len(p))
	for k, r := range p {
		logs[k] = math.NaN()
		if r.there() {
			logs[k] = math.Log(r.Ohm)
		}
	}
	return logs
}

// Seen is how many it looked at.
func (w *Search) Seen() int { return w.seen }

// Basis is what the difference of a jig to the one here is known from.
func (w *Search) Basis(jig int64) Basis { return w.beside(jig).offset.Basis }

// Spread is what pads of a jig differ by.
func (w *Search) Spread(jig int64) Lot { return w.beside(jig).lot }

// Jigs are the numbers of those that something is known of, in order.
func (w *Search) Jigs() []int64 {
	numbers := make([]int64, 0, len(w.jigs))
	for n := range w.jigs {
		numbers = append(numbers, n)
	}
	slices.Sort(numbers)
	return numbers
}

// Hits are those kept, compared in full, the likeliest first.
func (w *Search) Hits() []Hit {
	hits := make([]Hit, 0, len(w.kept))
	for _, one := range w.kept {
		b := w.beside(one.Jig)
		hits = append(hits, Hit{one, b.lot.Compare(w.pad, one.Pad.Off(b.offset), w.scatter), b.offset.Basis})
	}
	slices.SortFunc(hits, func(a, b Hit) int { return cmp.Or(cmp.Compare(b.Log, a.Log), cmp.Compare(a.Of, b.Of)) })
	return hits
}

// Weighed are the best ratios of several units, of so many that were searched: how likely each of them is the
// one, and how likely it is none, when beforehand it is none with a chance of one half and each of them is as likely as the
// others. logs are natural logarithms. The last of the chances is that of none.
func Weighed(logs []float64, searched int) (chances []float64) {
	all := append(slices.Clone(logs), math.Log(float64(max(searched, 1))))
	total := sumOf(all)
	for i := range all {
		all[i] = math.Exp(all[i] - total)
	}
	return all
}

// Certain is the chance from which a unit is named: one that is wrong is to be no more than every thousandth, as [Rarely] has it.
const Certain = 1 - Rarely

// Named is the unit that is certain enough to be named, if there is one, and all that may be it, with the chance of each. Several
// runs of one unit are to be one: [Weighed] is for who knows units by their names.
func (w *Search) Named() (named *Hit, chances []float64) {
	hits := w.Hits()
	logs := make([]float64, len(hits))
	for i, h := range hits {
		logs[i] = h.Log
	}
	chances = Weighed(logs, w.seen)
	if len(hits) > 0 && chances[0] >= Certain {
		named = &hits[0]
	}
	return named, chances
}
