package sequence

import (
	"maps"
	"sort"
	"strconv"

	"padjig/fixture/quantity"
)

// findWiring looks for causes wider than a key - lines exchanged, a tail the
// wrong way round, a line open or broken, resistance added along a track - and
// says them in place of the keys' findings that they explain. Exchanged lines
// come first: they explain keys that seem open.
func (r *runner) findWiring() error {
	if stop, err := r.findExchange(); stop || err != nil {
		return err
	}
	r.nameStrays()
	r.findOpenLines()
	r.findAddedResistance()
	return nil
}

// remap maps each line to the line in whose place it was found.
type remap map[int]int

func (e remap) of(line int) int {
	if to, ok := e[line]; ok {
		return to
	}
	return line
}

// findExchange says that lines have changed places, where that explains what
// was seen.
func (r *runner) findExchange() (stop bool, err error) {
	e := r.exchanged()
	switch {
	case e == nil:
		return false, nil
	case maps.Equal(e, r.mirror()):
		r.dismiss(e)
		return true, r.stop(Reseat, TailTurned)
	}
	r.sayExchange(e)
	return false, nil
}

// exchanged is the mapping of lines that explains every key that was tested:
// which seemed open, and where those that were located closed instead. It is
// nil when there is none.
func (r *runner) exchanged() remap {
	if len(r.elsewhere) == 0 {
		return nil
	}
	for _, e := range append([]remap{r.mirror()}, r.swaps()...) {
		if r.explains(e) {
			return e
		}
	}
	return nil
}

// mirror is the mapping of a tail put in the wrong way round.
func (r *runner) mirror() remap {
	p, e := r.plan.Product, remap{}
	for i, name := range p.Tail {
		opposite := p.Tail[len(p.Tail)-1-i]
		if name != "" && opposite != "" && name != opposite {
			e[p.Line(name)] = p.Line(opposite)
		}
	}
	return e
}

// swaps are all exchanges of two lines that were found connected elsewhere.
func (r *runner) swaps() []remap {
	involved := map[int]bool{}
	for _, f := range r.elsewhere {
		key := r.plan.Product.Keys[f.key]
		for _, l := range []int{f.a, f.b, key.A, key.B} {
			involved[l] = true
		}
	}
	var lines []int
	for l := range involved {
		lines = append(lines, l)
	}
	sort.Ints(lines)
	var out []remap
	for i, a := range lines {
		for _, b := range lines[:i] {
			out = append(out, remap{a: b, b: a})
		}
	}
	return out
}

// explains reports whether under e every key closed exactly where it was seen,
// and every key that e moves seemed open and made other lines touch.
func (r *runner) explains(e remap) bool {
	seen := map[int][][2]int{}
	for _, f := range r.elsewhere {
		seen[f.key] = append(seen[f.key], ordered(f.a, f.b))
	}
	for k, key := range r.plan.Product.Keys {
		if r.known.same(key.A, key.B) {
			continue
		}
		own, expected := ordered(key.A, key.B), ordered(e.of(key.A), e.of(key.B))
		if expected == own {
			if len(seen[k]) > 0 {
				return false
			}
			continue
		}
		if !r.opened[k] || !r.strayed(k) {
			return false
		}
		if r.located[k] && (len(seen[k]) != 1 || seen[k][0] != expected) {
			return false
		}
	}
	return true
}

// strayed reports whether other lines touched while key k was held.
func (r *runner) strayed(k int) bool {
	for _, s := range r.strays {
		if s.key == k {
			return true
		}
	}
	return false
}

func ordered(a, b int) [2]int { return [2]int{min(a, b), max(a, b)} }

func (r *runner) sayExchange(e remap) {
	var lines []int
	for l := range e {
		lines = append(lines, l)
	}
	sort.Ints(lines)
	r.dismiss(e)
	r.run.Findings = append(r.run.Findings, r.finding("lines exchanged", r.atLines(AtExchanged, lines[0], lines[1]), lines...))
}

// dismiss takes back what was said of keys whose lines were elsewhere: they
// were not tested.
func (r *runner) dismiss(e remap) {
	moved := map[int]bool{}
	for k, key := range r.plan.Product.Keys {
		if e.of(key.A) != key.A || e.of(key.B) != key.B {
			moved[k] = true
			r.opened[k] = false
			r.run.Keys[k].Verdict = KeyUntested
		}
	}
	r.drop("key open", moved)
	r.elsewhere = nil
}

// nameStrays says what closed besides, or instead of, the key that was pressed.
func (r *runner) nameStrays() {
	for _, f := range r.elsewhere {
		at := r.atKey(AtLinesHeld, f.key, r.atLines(AtLines, f.a, f.b).Args...)
		finding := r.finding("second contact", at, f.a, f.b)
		finding.Key = r.plan.Product.Keys[f.key].Label
		finding.measured(f.ohm, r.plan.closure)
		r.run.Findings = append(r.run.Findings, finding)
		r.run.Keys[f.key].Verdict = KeyFail
	}
}

// findOpenLines names lines all of whose keys are open, and lines broken at a
// place: keys beyond it open, keys before it good. One key alone beyond a
// break cannot be told from an open key and stays one.
func (r *runner) findOpenLines() {
	for l := range r.plan.Product.Lines {
		track := r.tested(l)
		good := 0
		for good < len(track) && !r.opened[track[good]] {
			good++
		}
		beyond := track[good:]
		if len(beyond) < 2 || !r.all(beyond, r.opened) {
			continue
		}
		line := r.plan.Product.Lines[l]
		what, at := "line open", said(AtFirstKey, line.Name, strconv.Itoa(line.Pin))
		if good > 0 {
			what, at = "line broken", said(AtBreak, line.Name, r.label(track[good-1]), r.label(beyond[0]))
		}
		r.explain(what, at, "key open", l, beyond)
	}
}

// tested lists a line's keys in track order, without those hidden by a fault.
func (r *runner) tested(l int) []int {
	var out []int
	for _, k := range r.plan.Product.Lines[l].Track {
		key := r.plan.Product.Keys[k]
		if !r.known.same(key.A, key.B) {
			out = append(out, k)
		}
	}
	return out
}

func (r *runner) all(keys []int, is []bool) bool {
	for _, k := range keys {
		if !is[k] {
			return false
		}
	}
	return true
}

func (r *runner) label(k int) string { return r.plan.Product.Keys[k].Label }

// explain replaces the findings of some keys by one about their line.
func (r *runner) explain(what string, at Said, instead string, line int, keys []int) {
	set := map[int]bool{}
	for _, k := range keys {
		set[k] = true
		if instead == "key open" {
			r.opened[k] = false
		}
	}
	r.drop(instead, set)
	r.run.Findings = append(r.run.Findings, r.finding(what, at, line))
}

// findAddedResistance names a line from one point of which on all keys are
// high by about as much: a crack that still touches, a bad pin.
func (r *runner) findAddedResistance() {
	usual := r.usualContact()
	for l := range r.plan.Product.Lines {
		track := r.tested(l)
		good := 0
		for good < len(track) && !r.high(track[good]) {
			good++
		}
		beyond := track[good:]
		if added, ok := r.sameStep(beyond, usual); ok {
			r.sayAdded(l, track, good, added)
		}
	}
}

func (r *runner) sayAdded(l int, track []int, good int, added quantity.Ohm) {
	line, more := r.plan.Product.Lines[l], roughly(added).String()
	at := said(AtMoreFirst, line.Name, more, strconv.Itoa(line.Pin))
	if good > 0 {
		at = said(AtMoreBetween, line.Name, more, r.label(track[good-1]), r.label(track[good]))
	}
	r.explain("line resistance", at, "key high", l, track[good:])
}

// roughly keeps two digits.
func roughly(r quantity.Ohm) quantity.Ohm {
	step := quantity.Ohm(1)
	for r/step >= 100 {
		step *= 10
	}
	return quantity.Ohm(int(r/step+0.5)) * step
}

func (r *runner) high(k int) bool {
	for _, f := range r.run.Findings {
		if f.What == "key high" && f.Key == r.label(k) {
			return true
		}
	}
	return false
}

// usualContact is the median closed resistance of the keys that passed.
func (r *runner) usualContact() quantity.Ohm {
	var values []float64
	for _, k := range r.run.Keys {
		if k.Verdict == KeyPass && k.Closed != nil {
			values = append(values, float64(k.Closed.Value))
		}
	}
	if len(values) == 0 {
		return r.plan.Product.Nominal.Contact
	}
	sort.Float64s(values)
	return quantity.Ohm(values[len(values)/2])
}

// sameStep reports whether at least two keys are all high, by amounts within a
// quarter of each other.
func (r *runner) sameStep(keys []int, usual quantity.Ohm) (quantity.Ohm, bool) {
	if len(keys) < 2 {
		return 0, false
	}
	least, most := quantity.Open, quantity.Ohm(0)
	for _, k := range keys {
		closed := r.run.Keys[k].Closed
		if !r.high(k) || closed == nil || closed.AtLeast {
			return 0, false
		}
		least, most = min(least, closed.Value-usual), max(most, closed.Value-usual)
	}
	return (least + most) / 2, most-least <= most/4
}
