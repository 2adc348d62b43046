package margin

import (
	"math/bits"
	"slices"
)

// Presses is which keys, held together, the scanner misreads. Only the smallest such sets are
// counted: three keys of which two are misread already count as those two.
type Presses struct {
	Sizes [4]Misread // by number of keys held, from 1; [0] is empty
	// Shared counts the crossings with several keys, which no scanner can tell apart.
	Shared int
}

// Misread counts the misread presses of one size.
type Misread struct {
	Ghost    int // presses with a key that is read though nobody holds it
	Lost     int // presses with a key that is held and not read
	Examples []Press
}

// mostExamples is how many presses of one size are named.
const mostExamples = 3

// Press is keys held together and what the scanner makes of them. A ghost is masked as
// well: when it is pressed too, nothing changes.
type Press struct {
	Held   []int
	Ghosts []int // read, not held
	Lost   []int // held, not read
}

// reading is what the scanner makes of one key.
type reading int

const (
	released reading = iota
	pressed
	between // a low and a high driver both reach the row: neither level is sure
)

// presses goes through all keys, pairs and triples that hang together by common lines; keys
// that do not cannot disturb each other.
func (w wiring) presses() Presses {
	e := explorer{wiring: w, crossings: w.crossings(), sole: map[int]bool{}, pair: map[[2]int]bool{}}
	e.p.Shared = len(w.keys) - len(e.crossings)
	e.neighbours, e.rows = e.joined(), e.byRow()
	for _, k := range e.crossings {
		e.sole[k] = e.try(k)
	}
	for _, i := range e.crossings {
		for _, j := range e.neighbours[i] {
			e.two(i, j)
		}
	}
	for _, i := range e.crossings {
		for n, j := range e.neighbours[i] {
			for _, k := range e.neighbours[i][n+1:] {
				e.three(i, j, k)
			}
		}
	}
	return e.p
}

// crossings is one key for each pair of lines.
func (w wiring) crossings() []int {
	seen, all := map[lines]bool{}, []int(nil)
	for k := range w.keys {
		if at := w.linesOf(k); !seen[at] {
			seen[at] = true
			all = append(all, k)
		}
	}
	return all
}

type explorer struct {
	wiring
	crossings  []int         // keys, one a crossing
	neighbours map[int][]int // keys that share a line with the key, in order
	rows       map[int][]int // keys by the line on which they are read
	sole       map[int]bool  // misread alone
	pair       map[[2]int]bool
	p          Presses
}

func (e *explorer) joined() map[int][]int {
	all := map[int][]int{}
	for _, k := range e.crossings {
		for _, other := range e.crossings {
			if other != k && e.linesOf(k).meets(e.linesOf(other)) {
				all[k] = append(all[k], other)
			}
		}
	}
	return all
}

func (e *explorer) byRow() map[int][]int {
	all := map[int][]int{}
	for _, k := range e.crossings {
		if w := e.ways[k]; w.unread == "" {
			all[w.read] = append(all[w.read], k)
		}
	}
	return all
}

func (e *explorer) two(i, j int) {
	if i < j && !e.sole[i] && !e.sole[j] && e.try(i, j) {
		e.pair[[2]int{i, j}] = true
	}
}

// three tries i with two of its neighbours, j < k. If these are neighbours of each other
// too, the triple comes up at each of its keys and counts at its first.
func (e *explorer) three(i, j, k int) {
	closed := e.linesOf(j).meets(e.linesOf(k))
	if closed && i > j || e.sole[i] || e.sole[j] || e.sole[k] || e.misread(i, j) || e.misread(i, k) ||
		e.misread(j, k) {
		return
	}
	e.try(i, j, k)
}

func (e *explorer) misread(i, j int) bool { return e.pair[[2]int{min(i, j), max(i, j)}] }

// try counts the press if it is misread.
func (e *explorer) try(held ...int) bool {
	p := e.look(held)
	m := &e.p.Sizes[len(held)]
	if len(p.Ghosts) > 0 {
		m.Ghost++
	}
	if len(p.Lost) > 0 {
		m.Lost++
	}
	found := len(p.Ghosts)+len(p.Lost) > 0
	if found && len(m.Examples) < mostExamples {
		slices.Sort(p.Held)
		m.Examples = append(m.Examples, p)
	}
	return found
}

// look reads every key on a line that the held ones touch; there is no effect on others.
func (e *explorer) look(held []int) Press {
	p := Press{Held: held}
	for row := range e.touched(held).all {
		for _, k := range e.rows[row] {
			e.judge(&p, k)
		}
	}
	slices.Sort(p.Ghosts)
	slices.Sort(p.Lost)
	return p
}

func (e *explorer) touched(held []int) (all lines) {
	for _, k := range held {
		all |= e.linesOf(k)
	}
	return all
}

func (e *explorer) judge(p *Press, k int) {
	switch held, seen := slices.Contains(p.Held, k), e.seen(k, p.Held); {
	case held && seen != pressed:
		p.Lost = append(p.Lost, k)
	case !held && seen != released:
		p.Ghosts = append(p.Ghosts, k)
	}
}

// seen is how the key is read while the held ones are closed: pressed if its row has a path
// to a line that is low, through closed keys in the direction their diodes allow. Without
// diodes that is the rule of connected components: the lines are points, the closed keys edges.
//
// Where two drivers fight, the one that is high may be dragged down and mislead other rows too;
// that is left out, since the two keys that let them fight are misread already.
func (w wiring) seen(key int, held []int) reading {
	way := w.ways[key]
	low := w.ground
	if w.driven.has(way.driven) {
		low |= setOf(way.driven)
	}
	var high lines
	if w.idleDriven {
		high = w.driven &^ low
	}
	switch {
	case !w.reach(way.read, held, high).meets(low):
		return released
	case w.fed(way.read, held, high):
		return between
	}
	return pressed
}

// reach is the lines that current from the line can flow to. It does not get past a line
// that is driven high.
func (w wiring) reach(line int, held []int, high lines) lines {
	found := setOf(line)
	for fresh := found; fresh != 0; {
		from := bits.TrailingZeros64(uint64(fresh))
		fresh = fresh.without(from)
		if high.has(from) {
			continue
		}
		for _, k := range held {
			to := w.linesOf(k).without(from)
			if w.linesOf(k).has(from) && w.conducts(k, from) && !found.meets(to) {
				found |= to
				fresh |= to
			}
		}
	}
	return found
}

// fed reports whether a line that is driven high reaches the row through a held key.
func (w wiring) fed(row int, held []int, high lines) bool {
	return slices.ContainsFunc(held, func(k int) bool {
		from := w.linesOf(k).without(row)
		return w.linesOf(k).has(row) && high.meets(from) && w.conducts(k, bits.TrailingZeros64(uint64(from)))
	})
}
