package diagnose

import "slices"

// effect is what a fault does in the circuit or to its contacts in time.
type effect uint8

const (
	noContact    effect = iota // key: never closes
	otherContact               // key: closes with ohm, more or less than it should
	shaky                      // key: comes and goes
	bouncesMake                // key: too long
	bouncesBreak               // key: too long
	slow                       // key: opens late
	closed                     // key: closed with ohm all the time
	secondPair                 // key: joins line and mate as well
	diodeTurned                // key
	diodeBridged               // key
	diodeOff                   // key: wrong drop, or leaks backwards
	parts                      // line: broken after a place
	adds                       // line: ohm more after a place
	bridges                    // line and mate: joined through ohm
	badSeat                    // pin: no sure contact to the channel
	badJoin                    // line: its channel does not read the jig's own resistor
	moved                      // lines: read in other places
	vanishes                   // something at rest, gone when looked for
	thin                       // all tracks: ohm times as much
	graded                     // all contacts: by their place on the panel
	jigNoise                   // all readings
	jigSelf                    // the jig's own
	several                    // the faults in members, from one cause
)

// fault is one thing that is wrong, at one place. Which fields count depends on the effect.
type fault struct {
	effect     effect
	key        int
	line, mate int
	after      int     // the fault lies just beyond this place of line: -1 the tail, i its i-th tap
	pin        int     // from 1
	ohm        float64 // as the readings have it
	u          float64 // standard uncertainty of ohm
	hidden     bool    // of bridges and closed: not seen at rest, but while a key was held
	seen       *mapping
	members    []fault
	cause      Kind // of several: what they have in common
}

func (f *fault) isSeries() bool { return f.effect == adds || f.effect == parts }

// isKey reports whether the fault is about one key alone.
func (f *fault) isKey() bool { return f.effect <= diodeOff }

// all lists the fault, or its members.
func (f fault) all() []fault {
	if f.effect == several {
		return f.members
	}
	return []fault{f}
}

// same reports whether two faults are the same thing at the same place, whatever its size.
func (f *fault) same(g *fault) bool {
	if f.effect != g.effect || f.cause != g.cause || len(f.members) != len(g.members) {
		return false
	}
	for i := range f.members {
		if !f.members[i].same(&g.members[i]) {
			return false
		}
	}
	return f.key == g.key && f.line == g.line && f.mate == g.mate && f.after == g.after && f.pin == g.pin && f.seen == g.seen
}

// flat is the hypothesis with every fault of several in it by itself.
func flat(h []fault) []fault {
	if !slices.ContainsFunc(h, func(f fault) bool { return f.effect == several }) {
		return h
	}
	var out []fault
	for _, f := range h {
		out = append(out, f.all()...)
	}
	return out
}
