package diagnose

import (
	"fmt"
	"math"
	"slices"

	"padjig/sequence/product"
)

// named is one kind that can have a fault's effect, its prior and its place.
type named struct {
	kind  Kind
	prior float64
	place string
	key   int // -1 where it is not about one key
	lines []int
	pin   int // where it is about a pin without a line
}

// names lists the kinds that can have the effect of f, weighed by what the readings say
// beside the effect itself.
func (m *model) names(f *fault) []named {
	if f.isKey() {
		return m.keyNames(f)
	}
	switch f.effect {
	case parts, adds:
		return m.lineNames(f)
	case bridges:
		return m.bridgeNames(f)
	case badSeat:
		return m.seatNames(f)
	case badJoin:
		place := "channel of " + m.lineName(f.line) + " or its harness: joined lines do not read the jig's resistor"
		return []named{{kind: ProbeDirty, prior: kinds[ProbeDirty].Prior, place: place, key: -1, lines: []int{f.line}}}
	case moved:
		return []named{{kind: f.seen.kind, prior: f.seen.rate, place: f.seen.place, key: -1, lines: f.seen.lines}}
	case vanishes:
		return []named{{kind: NotFoundAgain, prior: kinds[NotFoundAgain].Prior, key: -1,
			place: "between lines; gone when it was looked for"}}
	case thin:
		return []named{{kind: PrintThin, prior: kinds[PrintThin].Prior, key: -1,
			place: fmt.Sprintf("all tracks have %.2g times their resistance", f.ohm)}}
	case graded:
		return []named{{kind: ContactMisplaced, prior: kinds[ContactMisplaced].Prior, key: -1,
			place: "contacts over the whole panel, worse " + m.worseTowards()}}
	case jigNoise:
		return []named{{kind: JigNoisy, prior: kinds[JigNoisy].Prior, key: -1, place: "readings of all keys are noisy"}}
	case jigSelf:
		return []named{{kind: JigDoubtful, prior: 1, key: -1, place: "the jig does not read its own check resistors"}}
	case several:
		return []named{m.severalName(f)}
	}
	return nil
}

// weighed is a kind with a factor on its prior.
type weighed struct {
	kind Kind
	by   float64
}

func (m *model) keyNames(f *fault) []named {
	key := &m.ev.Product.Keys[f.key]
	place := m.keyPlace(f.key)
	switch {
	case f.effect == secondPair && f.line < 0:
		place += " also joins other lines; which was not looked for"
	case f.effect == secondPair:
		place = fmt.Sprintf("%s also joins %s and %s", place, m.lineName(f.line), m.lineName(f.mate))
	}
	var out []named
	for _, w := range m.keyKinds(f) {
		if w.by > 0 {
			out = append(out, named{kind: w.kind, prior: w.by * kinds[w.kind].Prior, place: place, key: f.key, lines: []int{key.A, key.B}})
		}
	}
	return out
}

func (m *model) keyKinds(f *fault) []weighed {
	read := &m.ev.Keys[f.key]
	switch f.effect {
	case noContact:
		all := []weighed{{ContactMissing, 1}, {ActuatorMisses, 1}, {ContactWorn, 0.2}}
		if m.hasDiode(f.key) {
			all = append(all, weighed{DiodeMissing, 1})
		}
		return all
	case otherContact:
		return m.contactKinds(f)
	case shaky:
		return []weighed{{ContactUnsteady, 1}, {KeyPretravelled, when(read.Teases, 2, 0.5)}, {ContactDirty, 0.1}}
	case bouncesMake:
		return []weighed{{DomeCracked, 1}, {ContactDirty, 0.1}}
	case bouncesBreak:
		return []weighed{{DomeCracked, 1}, {KeyStuck, 0.1}, {ContactDirty, 0.05}}
	case slow:
		return []weighed{{KeyStuck, 1}, {ActuatorHolds, 1}}
	case closed:
		return []weighed{{KeyStuck, 1}, {DomeInverted, when(m.domed(), 1, 0.2)}, {ActuatorHolds, 1}}
	case secondPair:
		return []weighed{{SecondContact, 1}}
	case diodeTurned:
		return []weighed{{DiodeReversed, 1}}
	case diodeBridged:
		return []weighed{{DiodeShorted, 1}}
	case diodeOff:
		return []weighed{{DiodeDamaged, 1}, {DiodeDropDoubtful, when(read.State == NoLaw, 2, 0.1)}}
	}
	return nil
}

// contactKinds are those of a contact that closes with another resistance: worn pills
// lie in the kilohms, and long bounce speaks for dirt.
func (m *model) contactKinds(f *fault) []weighed {
	read := &m.ev.Keys[f.key]
	if read.Closed == nil {
		return nil
	}
	if float64(read.Closed.Value) < m.mean[f.key].contact+m.mean[f.key].path {
		return []weighed{{ContactLow, 1}}
	}
	long := read.Make != nil && read.Make.Long
	high := read.Closed.Value >= 1e3
	return []weighed{
		{ContactDirty, when(long, 2, 1)},
		{ContactWorn, when(high && !long, 4, 0.5)},
		{ContactMisplaced, 1},
		{DomeCracked, when(long, 1, 0.1)},
		{ActuatorMisses, when(high, 0.3, 0.1)},
	}
}

// domed reports whether contacts are of metal rather than of carbon: a dome then.
func (m *model) domed() bool { return m.ev.Product.Nominal.Contact < 15 }

func (m *model) lineNames(f *fault) []named {
	// A pin without contact shows in the loop through its probes, where that is read.
	seat := when(m.unseated(), 1, 0.1)
	kind, tail := LineBroken, []weighed{{LineOpen, 1}, {PinDoubtful, 0.3 * seat}}
	if f.effect == adds {
		kind, tail = LineCracked, []weighed{{LineCracked, 2}, {PinDoubtful, seat}}
	}
	if m.unseated() {
		tail = append(tail, weighed{ProbeDirty, 1})
	}
	all := tail
	if f.after >= 0 {
		all = []weighed{{kind, 1}}
	}
	var out []named
	for _, w := range all {
		out = append(out, named{kind: w.kind, prior: w.by * kinds[w.kind].Prior, place: m.linePlace(f, w.kind), key: -1, lines: []int{f.line}})
	}
	return out
}

// unseated reports whether nothing is known of the channels' contact to the tail.
func (m *model) unseated() bool { return len(m.ev.Seats) == 0 }

func (m *model) bridgeNames(f *fault) []named {
	p := m.pairOf(f)
	if p == nil {
		if !f.hidden {
			return nil
		}
		p = &Pair{Ohm: Reading{Value: ohm(f.ohm)}} // seen behind a break only
	}
	var out []named
	add := func(k Kind, by float64) {
		if by > 0 {
			out = append(out, named{kind: k, prior: by * kinds[k].Prior, place: m.bridgePlace(f), key: -1, lines: []int{f.line, f.mate}})
		}
	}
	if p.Ohm.AtLeast || p.Ohm.Value >= m.ev.Closure {
		m.leakKinds(p, add)
		return out
	}
	m.shortKinds(f, p, add)
	return out
}

func (m *model) leakKinds(p *Pair, add func(Kind, float64)) {
	falling, oneWay := p.Trend == Falling, p.oneWay() != 0
	add(SilverGrowing, when(falling || oneWay, 4, when(p.Trend == Steady, 0.5, 1)))
	add(HumidityFilm, when(p.Trend == Rising, 2, when(falling || oneWay, 0.1, 0.7)))
	add(LiquidInside, when(p.Trend == Rising, 1, 0.3))
	add(SilverBridge, when(p.Gone, 4, 0))
}

func (m *model) shortKinds(f *fault, p *Pair, add func(Kind, float64)) {
	crossing, shield := m.crossing(f), m.shielded(f)
	low := p.Ohm.Value-ohm(2*m.tails(f)) < 50
	add(SilverBridge, when(p.Gone, 20, when(low, 0.3, 1)))
	switch {
	case shield:
		add(ShieldShorted, 1)
	case crossing:
		add(CrossingShorted, 1)
	default:
		add(LinesShorted, 1)
		add(PrintSmeared, when(low && m.neighbours(f.line, f.mate), 1, 0.1))
	}
}

// crossing reports whether a bridge joins a row and a column.
func (m *model) crossing(f *fault) bool {
	a, b := m.ev.Product.Lines[f.line].Kind, m.ev.Product.Lines[f.mate].Kind
	return a == product.Row && b == product.Column || a == product.Column && b == product.Row
}

func (m *model) shielded(f *fault) bool {
	return m.ev.Product.Lines[f.line].Kind == product.Shield || m.ev.Product.Lines[f.mate].Kind == product.Shield
}

// neighbours reports whether two lines lie side by side in the tail.
func (m *model) neighbours(a, b int) bool {
	return abs(m.ev.Product.Lines[a].Pin-m.ev.Product.Lines[b].Pin) == 1
}

func (m *model) pairOf(f *fault) *Pair {
	for _, direct := range []bool{true, false} {
		for i := range m.ev.Rest {
			p := &m.ev.Rest[i]
			at := ordered(p.Lines[0], p.Lines[1]) == ordered(f.line, f.mate)
			if at || !direct && m.between(p, f) {
				return p
			}
		}
	}
	return nil
}

func (m *model) seatNames(f *fault) []named {
	place := fmt.Sprintf("pin %d has no sure contact to its channel", f.pin)
	n := named{place: place, key: -1, pin: f.pin}
	if l := m.ev.Product.Line(m.ev.Product.Tail[f.pin-1]); l >= 0 {
		n.lines = []int{l}
		n.place = fmt.Sprintf("pin %d (%s) has no sure contact to its channel", f.pin, m.ev.Product.Tail[f.pin-1])
	}
	var out []named
	for _, k := range []Kind{PinDoubtful, ProbeDirty} {
		n.kind, n.prior = k, kinds[k].Prior
		out = append(out, n)
	}
	return out
}

func (m *model) severalName(f *fault) named {
	n := named{kind: f.cause, prior: kinds[f.cause].Prior * m.fitting(f.cause), key: -1}
	for _, part := range f.members {
		if part.isKey() {
			n.lines = append(n.lines, m.ev.Product.Keys[part.key].A, m.ev.Product.Keys[part.key].B)
			continue
		}
		n.lines = append(n.lines, part.line)
		if part.effect == bridges {
			n.lines = append(n.lines, part.mate)
		}
	}
	slices.Sort(n.lines)
	n.lines = slices.Compact(n.lines)
	n.place = m.severalPlace(f, n.lines)
	return n
}

// fitting weighs a cause of many leaks by whether they are alike: a film is the same
// everywhere, a liquid is not.
func (m *model) fitting(cause Kind) float64 {
	least, most := math.Inf(1), 0.0
	for i := range m.ev.Rest {
		least, most = min(least, float64(m.ev.Rest[i].Ohm.Value)), max(most, float64(m.ev.Rest[i].Ohm.Value))
	}
	const alike = 3
	switch cause {
	case HumidityFilm:
		return when(most < alike*least, 5, 0.1)
	case LiquidInside:
		return when(most < alike*least, 0.5, 2)
	}
	return 1
}

func when(is bool, yes, no float64) float64 {
	if is {
		return yes
	}
	return no
}
