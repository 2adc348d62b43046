package diagnose

import (
	"math"

	"padjig/fixture/quantity"
	"padjig/sequence/diagnose/model"
	"padjig/sequence/diagnose/readings"
	"padjig/sequence/product"
)

// origin is one kind that can have a fault's effect, and its prior.
type origin struct {
	kind  Kind
	prior float64
}

// origins says which kinds can have an effect, weighed by what the readings say beside
// the effect itself.
type origins struct {
	unit  *readings.Unit
	model *model.Model
}

// weighed is a kind with a factor on its prior.
type weighed struct {
	kind Kind
	by   float64
}

// of lists the kinds that can have the effect of f, each with its prior after what is
// known of the units before.
func (o origins) of(f *model.Fault) []origin { return o.moved(f, o.plain(f)) }

// plain are those with their priors by themselves.
func (o origins) plain(f *model.Fault) (out []origin) {
	if f.Effect == model.WiringSwap {
		return []origin{{ofWay[f.Layout.Way], layoutPrior(o.unit.Product, f.Layout)}}
	}
	for _, w := range o.weighed(f) {
		if w.by > 0 {
			out = append(out, origin{w.kind, w.by * kinds[w.kind].Prior})
		}
	}
	return out
}

var ofWay = map[model.Way]Kind{
	model.Shifted: TailShifted, model.Reversed: TailReversed, model.Exchanged: LinesExchanged, model.Another: WrongProduct,
}

// layoutPrior is how likely lines lie just so before anything is read.
func layoutPrior(p *product.Product, l *model.Layout) float64 {
	prior := kinds[ofWay[l.Way]].Prior
	switch l.Way {
	case model.Shifted:
		return prior / 4
	case model.Exchanged:
		n := float64(len(p.Lines))
		return math.Pow(prior*2/(n*n), float64(len(l.Lines)/2))
	}
	return prior
}

func (o origins) weighed(f *model.Fault) []weighed {
	if f.IsKey() {
		return o.ofKey(f)
	}
	switch f.Effect {
	case model.OpenLine, model.Adds:
		return o.ofLine(f)
	case model.Bridges:
		return o.ofBridge(f)
	case model.BadSeat:
		return []weighed{{PinDoubtful, 1}, {ProbeDirty, 1}}
	case model.Filmed:
		return []weighed{{HumidityFilm, when(o.alikeAtRest(), 5, 0.1)}}
	case model.Wet:
		return []weighed{{LiquidInside, when(o.alikeAtRest(), 0.5, 2)}}
	}
	return []weighed{{only[f.Effect], 1}}
}

// only are the kinds that alone have an effect.
var only = map[model.Effect]Kind{
	model.SecondPair: SecondContact, model.DiodeTurned: DiodeReversed, model.DiodeBridged: DiodeShorted,
	model.BadJoin: ProbeDirty, model.Vanishes: NotFoundAgain,
	model.Thin: PrintThin, model.Graded: ContactMisplaced, model.JigNoise: JigNoisy,
	model.Wet: LiquidInside, model.Filmed: HumidityFilm, model.Creased: TailCreased, model.Creeping: SpacerCreep,
}

func (o origins) ofKey(f *model.Fault) []weighed {
	read := &o.unit.Keys[f.Key]
	switch f.Effect {
	case model.NoContact:
		all := []weighed{{ContactMissing, 1}, {ActuatorMisses, 1}, {ContactWorn, 0.2}}
		if o.unit.HasDiode(f.Key) {
			all = append(all, weighed{DiodeMissing, 1})
		}
		return all
	case model.OtherContact:
		return o.ofContact(f)
	case model.Intermittent:
		return []weighed{{ContactUnsteady, 1}, {KeyPretravelled, when(read.Teases, 2, 0.5)}, {ContactDirty, 0.1}}
	case model.BouncesMake:
		return []weighed{{DomeCracked, 1}, {ContactDirty, 0.1}}
	case model.BouncesBreak:
		return []weighed{{DomeCracked, 1}, {KeyStuck, 0.1}, {ContactDirty, 0.05}}
	case model.Slow:
		return []weighed{{KeyStuck, 1}, {ActuatorHolds, 1}}
	case model.Closed:
		domed := o.unit.Product.Nominal.Contact < 15 // contacts of metal rather than of carbon
		return []weighed{{KeyStuck, 1}, {DomeInverted, when(domed, 1, 0.2)}, {ActuatorHolds, 1}}
	case model.DiodeOff:
		return []weighed{{DiodeDamaged, 1}, {DiodeDropDoubtful, when(read.State == readings.NoLaw, 2, 0.1)}}
	}
	return []weighed{{only[f.Effect], 1}}
}

// ofContact are those of a contact that closes with another resistance: worn pills lie in
// the kilohms, and long bounce speaks for dirt.
func (o origins) ofContact(f *model.Fault) []weighed {
	read, healthy := &o.unit.Keys[f.Key], o.model.Healthy(f.Key)
	if read.Closed == nil {
		return nil
	}
	if float64(read.Closed.Value) < healthy.Contact+healthy.Path {
		return []weighed{{ContactLow, 1}}
	}
	long, high := read.Make == readings.Long, read.Closed.Value >= 1e3
	return []weighed{
		{ContactDirty, when(long, 2, 1)},
		{ContactWorn, when(high && !long, 4, 0.5)},
		{ContactMisplaced, 1},
		{DomeCracked, when(long, 1, 0.1)},
		{ActuatorMisses, when(high, 0.3, 0.1)},
	}
}

// ofLine are those of a break or a crack. A pin without contact shows in the loop through
// its probes, where that is read.
func (o origins) ofLine(f *model.Fault) []weighed {
	unseated := len(o.unit.Seats) == 0
	seat := when(unseated, 1, 0.1)
	kind, tail := LineBroken, []weighed{{LineOpen, 1}, {PinDoubtful, 0.3 * seat}}
	if f.Effect == model.Adds {
		kind, tail = LineCracked, []weighed{{LineCracked, 2}, {PinDoubtful, seat}}
	}
	if f.After >= 0 {
		return []weighed{{kind, 1}}
	}
	return append(tail, weighed{ProbeDirty, when(unseated, 1, 0)})
}

func (o origins) ofBridge(f *model.Fault) []weighed {
	p := o.pairOf(f)
	if p == nil {
		if !f.Hidden {
			return nil
		}
		p = &readings.Pair{Ohm: readings.Reading{Value: ohm(f.Ohm)}} // seen behind a break only
	}
	if p.Ohm.AtLeast || p.Ohm.Value >= o.unit.Closure {
		falling, oneWay := p.Trend == readings.Falling, p.OneWay() != 0
		return []weighed{
			{SilverGrowing, when(falling || oneWay, 4, when(p.Trend == readings.Steady, 0.5, 1))},
			{HumidityFilm, when(p.Trend == readings.Rising, 2, when(falling || oneWay, 0.1, 0.7))},
			{LiquidInside, when(p.Trend == readings.Rising, 1, 0.3)},
			{SilverBridge, when(p.Gone, 4, 0)},
		}
	}
	low := p.Ohm.Value-ohm(2*o.model.Tails(f)) < 50
	silver := weighed{SilverBridge, when(p.Gone, 20, when(low, 0.3, 1))}
	a, b := o.unit.Product.Lines[f.Line].Kind, o.unit.Product.Lines[f.Mate].Kind
	switch {
	case a == product.Shield || b == product.Shield:
		return []weighed{silver, {ShieldShorted, 1}}
	case a == product.Row && b == product.Column || a == product.Column && b == product.Row:
		return []weighed{silver, {CrossingShorted, 1}}
	}
	return []weighed{silver, {LinesShorted, 1}, {PrintSmeared, when(low && neighbours(o.unit.Product, f), 1, 0.1)}}
}

// neighbours reports whether the lines of a bridge lie side by side in the tail.
func neighbours(p *product.Product, f *model.Fault) bool {
	apart := p.Lines[f.Line].Pin - p.Lines[f.Mate].Pin
	return apart == 1 || apart == -1
}

// pairOf is the pair at rest that a bridge shows in: its own lines, or those that stand
// for its nets.
func (o origins) pairOf(f *model.Fault) *readings.Pair {
	for _, direct := range []bool{true, false} {
		for i := range o.unit.Rest {
			p := &o.unit.Rest[i]
			if p.Lines.Are(f.Line, f.Mate) || !direct && o.model.Nets().Span(p.Lines, f.Line, f.Mate) {
				return p
			}
		}
	}
	return nil
}

// alikeAtRest reports whether the connections at rest are alike: a film is the same
// everywhere, a liquid is not.
func (o origins) alikeAtRest() bool {
	least, most := math.Inf(1), 0.0
	for i := range o.unit.Rest {
		v := float64(o.unit.Rest[i].Ohm.Value)
		least, most = min(least, v), max(most, v)
	}
	const alike = 3
	return most < alike*least
}

func when(is bool, yes, no float64) float64 {
	if is {
		return yes
	}
	return no
}

func ohm(v float64) quantity.Ohm { return quantity.Ohm(v) }
