package judge

import (
	"maps"
	"slices"
	"strconv"

	"padjig/fixture/quantity"
	"padjig/sequence"
	"padjig/sequence/exchange"
	"padjig/sequence/product"
)

// Wiring looks for causes wider than a key - lines exchanged, a tail the wrong way
// round, a line open or broken, resistance added along a track - and says them in place
// of the keys' findings that they explain.
type Wiring struct {
	set   *Setting
	sheet *Sheet
	rest  *Rest
	keys  *Keys

	located   map[int]bool // keys of which it is known what closed instead, or besides
	elsewhere []held       // all of it
}

// held is a connection that was found while a key was held.
type held struct {
	Connection
	key int
}

// NewWiring judges what was seen at rest and while the keys were pressed.
func NewWiring(set *Setting, sheet *Sheet, rest *Rest, keys *Keys) *Wiring {
	return &Wiring{set: set, sheet: sheet, rest: rest, keys: keys, located: map[int]bool{}}
}

// enoughLocated is how many keys must be located before an exchange of lines
// that explains them, and which keys seemed open, is taken for the whole story.
const enoughLocated = 3

// Told reports whether what was located tells enough, so that nobody needs to look for more.
func (w *Wiring) Told() bool { return len(w.located) >= enoughLocated && w.exchanged() != nil }

// Located takes what is connected while the key of a stray is held, its own pair included.
func (w *Wiring) Located(s Stray, found []Connection) error {
	key := w.set.Product.Keys[s.Key]
	others := slices.DeleteFunc(slices.Clone(found), func(c Connection) bool {
		return Joins(key, c.A, c.B) || w.wayRound(key, c, found)
	})
	for _, c := range others {
		w.elsewhere = append(w.elsewhere, held{c, s.Key})
		w.sheet.pair(c, key.Label)
	}
	switch {
	case len(others) == 0 && !w.keys.afterLate(s.Key) && !w.rest.leaks(s.ohm):
		w.secondContact(s, sequence.Gone)
	case len(others) == 0:
		w.keys.Only(s.Key)
	}
	if err := w.rest.widen(s.Key, w.sheet.Keys[s.Key].Closed, others); err != nil {
		return err
	}
	w.located[s.Key] = true
	return nil
}

// wayRound reports whether a connection is the held key's own by way of what is known to be
// connected always, whose resistance it has besides; a contact of its own would be closer.
func (w *Wiring) wayRound(key product.Key, c Connection, found []Connection) bool {
	return w.rest.Known.Span([2]int{key.A, key.B}, c.A, c.B) && slices.ContainsFunc(found, func(own Connection) bool {
		return Joins(key, own.A, own.B) && c.Ohm.Value > own.Ohm.Value
	})
}

// secondContact says that lines touched during a key, where it is not known which.
func (w *Wiring) secondContact(s Stray, why sequence.Code) {
	at := w.sheet.atKey(sequence.AtHeld, s.Key)
	w.sheet.failAt(s.Key, "second contact", at, ohms(s.ohm, w.set.Closure), sequence.Fact(why))
}

// Aborted makes findings of what was seen and not looked for again before the
// run was aborted: it would be lost with the run.
func (w *Wiring) Aborted() {
	for _, s := range w.keys.strays {
		if !w.located[s.Key] && !w.keys.afterLate(s.Key) {
			w.secondContact(s, sequence.NotLookedFor)
		}
	}
}

// Gently says what a first press can say without pressing again.
func (w *Wiring) Gently() {
	for _, k := range w.keys.doubtful {
		if w.sheet.Keys[k].Verdict == sequence.KeyPass {
			w.sheet.Keys[k].Verdict = sequence.KeyUntested
		}
	}
	for _, s := range w.keys.strays {
		w.secondContact(s, sequence.NotAtFirst)
	}
	if len(w.keys.strays) == 0 { // else keys may have closed in other places
		w.openLines()
	}
}

// Judge says wider causes when every key was pressed, and reports whether the tail is
// the wrong way round, which is no fault of the unit. Exchanged lines come first: they
// explain keys that seem open.
func (w *Wiring) Judge() (turned bool) {
	if m := w.exchanged(); m != nil {
		w.dismiss(m)
		if maps.Equal(m, exchange.Mirror(w.set.Product.Wiring())) {
			return true
		}
		l := m.Lines()
		w.sheet.add(w.sheet.finding("lines exchanged", w.sheet.atLines(sequence.AtExchanged, l[0], l[1]), nothing, l...))
	}
	w.nameStrays()
	w.openLines()
	w.addedResistance()
	return false
}

// exchanged is the exchange of lines that explains all that was seen, nil for none.
func (w *Wiring) exchanged() exchange.Map {
	presses := make([]exchange.Press, len(w.set.Product.Keys))
	for k, key := range w.set.Product.Keys {
		strayed := slices.ContainsFunc(w.keys.strays, func(s Stray) bool { return s.Key == k })
		presses[k] = exchange.Press{
			Lines: [2]int{key.A, key.B}, Hidden: w.rest.Hidden(k), Strayed: w.keys.opened[k] && strayed, Located: w.located[k],
		}
	}
	for _, c := range w.elsewhere {
		presses[c.key].At = append(presses[c.key].At, c.lines())
	}
	return exchange.Find(len(w.set.Product.Lines), w.set.Product.Wiring(), presses)
}

// dismiss takes back what was said of keys whose lines were elsewhere: they
// were not tested.
func (w *Wiring) dismiss(m exchange.Map) {
	var moved []int
	for k, key := range w.set.Product.Keys {
		if m.Of(key.A) != key.A || m.Of(key.B) != key.B {
			moved = append(moved, k)
			w.keys.opened[k] = false
			w.sheet.Keys[k].Verdict = sequence.KeyUntested
		}
	}
	w.sheet.drop("key open", moved)
	w.elsewhere = nil
}

// nameStrays says what closed besides, or instead of, the key that was pressed.
func (w *Wiring) nameStrays() {
	for _, c := range w.elsewhere {
		at := w.sheet.atKey(sequence.AtLinesHeld, c.key, w.sheet.atLines(sequence.AtLines, c.A, c.B).Args...)
		f := w.sheet.finding("second contact", at, ohms(c.Ohm, w.set.Closure), c.A, c.B)
		f.Key = w.set.Product.Keys[c.key].Label
		w.sheet.add(f)
		w.sheet.Keys[c.key].Verdict = sequence.KeyFail
	}
}

// track is a line's keys in track order, without those hidden by a fault, and how many
// of them come before the first that is not as it should be.
func (w *Wiring) track(line int, wrong func(k int) bool) (keys []int, good int) {
	keys = slices.DeleteFunc(slices.Clone(w.set.Product.Lines[line].Track), w.rest.Hidden)
	if good = slices.IndexFunc(keys, wrong); good < 0 {
		good = len(keys)
	}
	return keys, good
}

// openLines names lines all of whose keys are open, and lines broken at a
// place: keys beyond it open, keys before it good. One key alone beyond a
// break cannot be told from an open key and stays one.
func (w *Wiring) openLines() {
	for l, line := range w.set.Product.Lines {
		track, good := w.track(l, func(k int) bool { return w.keys.opened[k] })
		beyond := track[good:]
		if len(beyond) < 2 || slices.ContainsFunc(beyond, func(k int) bool { return !w.keys.opened[k] }) {
			continue
		}
		what, at := "line open", sequence.Fact(sequence.AtFirstKey, line.Name, strconv.Itoa(line.Pin))
		if good > 0 {
			what, at = "line broken", sequence.Fact(sequence.AtBreak, append([]string{line.Name}, w.sheet.Labels(track[good-1:good+1])...)...)
		}
		for _, k := range beyond {
			w.keys.opened[k] = false
		}
		w.instead(what, at, "key open", l, beyond)
	}
}

// instead replaces the findings of some keys by one about their line.
func (w *Wiring) instead(what string, at sequence.Said, of string, line int, keys []int) {
	w.sheet.drop(of, keys)
	w.sheet.add(w.sheet.finding(what, at, nothing, line))
}

// addedResistance names a line from one point of which on all keys are
// high by about as much: a crack that still touches, a bad pin.
func (w *Wiring) addedResistance() {
	usual := w.usualContact()
	for l, line := range w.set.Product.Lines {
		track, good := w.track(l, func(k int) bool { return w.sheet.found("key high", k) })
		added, same := w.sameStep(track[good:], usual)
		if !same {
			continue
		}
		more := roughly(added).String()
		at := sequence.Fact(sequence.AtMoreFirst, line.Name, more, strconv.Itoa(line.Pin))
		if good > 0 {
			at = sequence.Fact(sequence.AtMoreBetween, append([]string{line.Name, more}, w.sheet.Labels(track[good-1:good+1])...)...)
		}
		w.instead("line resistance", at, "key high", l, track[good:])
	}
}

// roughly keeps two digits.
func roughly(r quantity.Ohm) quantity.Ohm {
	step := quantity.Ohm(1)
	for r/step >= 100 {
		step *= 10
	}
	return quantity.Ohm(int(r/step+0.5)) * step
}

// usualContact is the median closed resistance of the keys that passed.
func (w *Wiring) usualContact() quantity.Ohm {
	var values []quantity.Ohm
	for _, k := range w.sheet.Keys {
		if k.Verdict == sequence.KeyPass && k.Closed != nil {
			values = append(values, k.Closed.Value)
		}
	}
	if len(values) == 0 {
		return w.set.Product.Nominal.Contact
	}
	slices.Sort(values)
	return values[len(values)/2]
}

// sameStep reports whether at least two keys are all high, by amounts within a
// quarter of each other.
func (w *Wiring) sameStep(keys []int, usual quantity.Ohm) (quantity.Ohm, bool) {
	if len(keys) < 2 {
		return 0, false
	}
	least, most := quantity.Open, quantity.Ohm(0)
	for _, k := range keys {
		closed := w.sheet.Keys[k].Closed
		if !w.sheet.found("key high", k) || closed == nil || closed.AtLeast {
			return 0, false
		}
		least, most = min(least, closed.Value-usual), max(most, closed.Value-usual)
	}
	return (least + most) / 2, most-least <= most/4
}
