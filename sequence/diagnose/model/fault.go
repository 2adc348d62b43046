package model

import "slices"

// Effect is what a fault does in the circuit or to its contacts in time.
type Effect uint8

// The effects.
const (
	NoContact    Effect = iota // key: never closes
	OtherContact               // key: closes with ohm, more or less than it should
	Intermittent               // key: comes and goes
	BouncesMake                // key: too long
	BouncesBreak               // key: too long
	Slow                       // key: opens late
	Closed                     // key: closed with ohm all the time
	SecondPair                 // key: joins line and mate as well
	DiodeTurned                // key
	DiodeBridged               // key
	DiodeOff                   // key: wrong drop, or leaks backwards
	OpenLine                   // line: broken after a place
	Adds                       // line: ohm more after a place
	Bridges                    // line and mate: joined through ohm
	BadSeat                    // pin: no sure contact to the channel
	BadJoin                    // line: its channel does not read the jig's own resistor
	WiringSwap                 // lines: read in other places
	Vanishes                   // something at rest, gone when looked for
	Thin                       // all tracks: ohm times as much
	Graded                     // all contacts: by their place on the panel
	JigNoise                   // all readings
	// From here on several faults of one cause, which are the members.
	Wet      // bridges, each with an ohm of its own
	Filmed   // bridges, all alike
	Creased  // neighbouring lines of the tail, broken or cracked there
	Creeping // neighbouring keys
)

// Fault is one thing that is wrong, at one place. Which fields count depends on the effect.
type Fault struct {
	Effect     Effect
	Key        int
	Line, Mate int
	After      int     // the fault lies just beyond this place of the line: -1 the tail, i its i-th tap
	Pin        int     // from 1
	Ohm        float64 // as the readings have it
	U          float64 // standard uncertainty of Ohm
	Hidden     bool    // of Bridges and Closed: not seen at rest, but while a key was held
	Layout     *Layout // of WiringSwap
	Members    []Fault
}

// IsSeries reports whether the fault lies in the track of a line.
func (f *Fault) IsSeries() bool { return f.Effect == Adds || f.Effect == OpenLine }

// IsKey reports whether the fault is about one key alone.
func (f *Fault) IsKey() bool { return f.Effect <= DiodeOff }

// IsSeveral reports whether the fault is several of one cause.
func (f *Fault) IsSeveral() bool { return f.Effect >= Wet }

// ofPanel reports whether the fault concerns every key.
func (f *Fault) ofPanel() bool {
	return f.Effect >= WiringSwap && f.Effect <= JigNoise && f.Effect != Vanishes
}

// Same reports whether two faults are the same thing at the same place, whatever its size.
func (f *Fault) Same(g *Fault) bool {
	return f.Effect == g.Effect && f.Key == g.Key && f.Line == g.Line && f.Mate == g.Mate && f.After == g.After &&
		f.Pin == g.Pin && f.Layout == g.Layout &&
		slices.EqualFunc(f.Members, g.Members, func(a, b Fault) bool { return a.Same(&b) })
}

// Excludes reports faults that cannot be together: two layouts, two contacts of one key,
// two breaks where the second is behind the first, or one cause and its parts.
func (f *Fault) Excludes(g *Fault) bool {
	switch {
	case f.IsSeveral() && g.IsSeveral(), f.Effect == WiringSwap && g.Effect == WiringSwap:
		return f.Effect == g.Effect
	case f.IsSeveral():
		return slices.ContainsFunc(f.Members, func(p Fault) bool { return p.Same(g) })
	case g.IsSeveral():
		return g.Excludes(f)
	case f.IsSeries() && g.IsSeries():
		return f.Line == g.Line && (f.After == g.After || f.Effect == OpenLine && g.Effect == OpenLine)
	case f.IsKey() && g.IsKey() && f.Key == g.Key:
		return f.Effect <= OtherContact && g.Effect <= OtherContact
	}
	return false
}

// Hypothesis is faults that may be there together.
type Hypothesis []Fault

// Flat has every fault of several in it by itself.
func (h Hypothesis) Flat() Hypothesis {
	if !slices.ContainsFunc(h, func(f Fault) bool { return f.IsSeveral() }) {
		return h
	}
	var out Hypothesis
	for _, f := range h {
		if f.IsSeveral() {
			out = append(out, f.Members...)
		} else {
			out = append(out, f)
		}
	}
	return out
}

// at gives the first fault with an effect at key k.
func (h Hypothesis) at(e Effect, k int) *Fault {
	for i := range h {
		if h[i].Effect == e && h[i].Key == k {
			return &h[i]
		}
	}
	return nil
}

func (h Hypothesis) has(e Effect, k int) bool { return h.at(e, k) != nil }

// layout is where lines are read, nil where they lie in their places.
func (h Hypothesis) layout() *Layout {
	for i := range h {
		if h[i].Effect == WiringSwap {
			return h[i].Layout
		}
	}
	return nil
}

// breakOf is the break of a line.
func (h Hypothesis) breakOf(line int) *Fault {
	for i := range h {
		if h[i].Effect == OpenLine && h[i].Line == line {
			return &h[i]
		}
	}
	return nil
}

// shortly is how many keys after one that opens late may still be read beside it.
const shortly = 4

// slowBefore calls of each key that opens late shortly before key k, until one is found.
func (h Hypothesis) slowBefore(k int, found func(other int) bool) bool {
	for i := range h {
		if f := &h[i]; f.Effect == Slow && f.Key < k && k-f.Key <= shortly && found(f.Key) {
			return true
		}
	}
	return false
}
