package diagnose

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"padjig/sequence/diagnose/model"
	"padjig/sequence/diagnose/readings"
	"padjig/sequence/product"
)

// naming says what may have happened where a fault is.
type naming struct {
	unit    *readings.Unit
	product *product.Product
	model   *model.Model
	origins origins
	planter planter
}

func namingOf(u *readings.Unit, m *model.Model) naming {
	return naming{u, u.Product, m, origins{u, m}, planter{u, m}}
}

// causes are those that a fault can have, each with the logarithm of its weight: likely is
// that of the evidence under it, and settled has its magnitude.
func (n naming) causes(f, settled *model.Fault, likely float64) (out []Cause) {
	for _, o := range n.origins.of(f) {
		c := Cause{
			Kind: o.kind, Place: n.place(f, o.kind), Weight: math.Log(o.prior) + likely, Ohm: estimate(n.unit, n.model, settled),
			Between: n.keysBeside(f), Plant: n.planter.plant(settled, o.kind),
		}
		if f.IsKey() {
			c.Key = n.product.Keys[f.Key].Label
		}
		for _, l := range n.lines(f) {
			c.Lines = append(c.Lines, n.product.Lines[l].Name)
			c.Pins = append(c.Pins, n.product.Lines[l].Pin)
		}
		if f.Effect == model.SecondPair && f.Line >= 0 {
			c.Also = n.names(f.Line, f.Mate)
		}
		if f.Effect == model.BadSeat && len(c.Lines) == 0 {
			c.Pins = []int{f.Pin}
		}
		out = append(out, c)
	}
	return out
}

// lines are those that a fault concerns.
func (n naming) lines(f *model.Fault) []int {
	switch {
	case f.IsKey():
		return []int{n.product.Keys[f.Key].A, n.product.Keys[f.Key].B}
	case f.IsSeries(), f.Effect == model.BadJoin:
		return []int{f.Line}
	case f.Effect == model.Bridges:
		return []int{f.Line, f.Mate}
	case f.Effect == model.WiringSwap:
		return f.Layout.Lines
	case f.Effect == model.BadSeat:
		if l := n.product.Line(n.product.Tail[f.Pin-1]); l >= 0 {
			return []int{l}
		}
	case f.IsSeveral():
		var all []int
		for i := range f.Members {
			all = append(all, n.lines(&f.Members[i])...)
		}
		slices.Sort(all)
		return slices.Compact(all)
	}
	return nil
}

func (n naming) names(lines ...int) (names []string) {
	for _, l := range lines {
		names = append(names, n.product.Lines[l].Name)
	}
	return names
}

// place says where a fault lies, as one of its kinds has it.
func (n naming) place(f *model.Fault, kind Kind) Said {
	switch {
	case f.Effect == model.SecondPair && f.Line < 0:
		return said(AtKeyAndSome, keyArgs(n.product, f.Key)...)
	case f.Effect == model.SecondPair:
		return said(AtKeyAndLines, append(keyArgs(n.product, f.Key), lineArgs(n.product, f.Line, f.Mate)...)...)
	case f.IsKey():
		return atKey(n.product, f.Key)
	case f.IsSeries():
		return n.onLine(f, kind)
	case f.IsSeveral():
		return n.several(f)
	}
	switch f.Effect {
	case model.Bridges:
		code := AtBridge
		if neighbours(n.product, f) {
			code = AtNeighbours
		}
		return said(code, lineArgs(n.product, f.Line, f.Mate)...)
	case model.BadSeat:
		if name := n.product.Tail[f.Pin-1]; n.product.Line(name) >= 0 {
			return said(AtSeatOfLine, f.Pin, name)
		}
		return said(AtSeat, f.Pin)
	case model.BadJoin:
		return said(AtChannel, lineArgs(n.product, f.Line)...)
	case model.WiringSwap:
		return n.wiringSwap(f.Layout)
	case model.Vanishes:
		return said(AtNoLines)
	case model.Thin:
		return said(AtTracks, fmt.Sprintf("%.2g", f.Ohm))
	case model.Graded:
		return said(worseTowards(n.model.Tilt()))
	}
	return said(AtAllKeys)
}

// onLine says between what and what on a line a fault lies.
func (n naming) onLine(f *model.Fault, kind Kind) Said {
	line := &n.product.Lines[f.Line]
	between := n.keysBeside(f)
	inner, outer := AtBreak, AtOpen
	if f.Effect == model.Adds {
		inner, outer = AtCrack, AtMore
	}
	switch {
	case kind == PinDoubtful || kind == ProbeDirty:
		return said(AtPin, line.Name, line.Pin)
	case f.After > 0:
		return said(inner, line.Name, between[0], between[1])
	}
	return said(outer, line.Name, line.Pin, between[1])
}

// keysBeside are the keys between which a line's fault lies.
func (n naming) keysBeside(f *model.Fault) []string {
	if !f.IsSeries() {
		return nil
	}
	label := func(i int) string { return n.product.Keys[n.product.Lines[f.Line].Track[i]].Label }
	if f.After > 0 {
		return []string{label(f.After - 1), label(f.After)}
	}
	return []string{"", label(0)}
}

func (n naming) several(f *model.Fault) Said {
	each := func(word func(part model.Fault) any) string {
		var all []string
		for _, part := range f.Members {
			all = append(all, fmt.Sprint(word(part)))
		}
		return strings.Join(all, ", ")
	}
	switch f.Effect {
	case model.Creased:
		return said(AtCrease, each(func(part model.Fault) any { return n.product.Lines[part.Line].Pin }))
	case model.Creeping:
		return said(AtRegion, each(func(part model.Fault) any { return n.product.Keys[part.Key].Label }))
	}
	return said(AtLeaks, len(f.Members), strings.Join(n.names(n.lines(f)...), ", "))
}

func (n naming) wiringSwap(l *model.Layout) Said {
	switch {
	case l.Way == model.Shifted && l.By > 0:
		return said(AtFurther, l.By)
	case l.Way == model.Shifted:
		return said(AtNearer, -l.By)
	case l.Way == model.Reversed:
		return said(AtTurned)
	case l.Way == model.Another:
		return said(AtOther, l.Of.Code, l.Of.Title)
	case len(l.Lines) > 2:
		return said(AtTwoExchange, lineArgs(n.product, l.Lines[1], l.Lines[0], l.Lines[3], l.Lines[2])...)
	}
	return said(AtExchanged, lineArgs(n.product, l.Lines[1], l.Lines[0])...)
}

// worseTowards says in which direction contacts get worse over the panel.
func worseTowards(right, down float64) Code {
	switch {
	case math.Abs(right) >= math.Abs(down) && right > 0:
		return AtRight
	case math.Abs(right) >= math.Abs(down):
		return AtLeft
	case down > 0:
		return AtBottom
	}
	return AtTop
}

// estimate is the magnitude of a fault. That of a contact is what the key reads less its
// healthy tracks, whose spread counts.
func estimate(u *readings.Unit, m *model.Model, f *model.Fault) *Estimate {
	switch f.Effect {
	case model.OtherContact:
		read := u.Keys[f.Key].Closed
		if read == nil || read.AtLeast {
			return nil
		}
		healthy := m.Healthy(f.Key)
		return &Estimate{max(read.Value-ohm(healthy.Path), 0), ohm(math.Hypot(float64(read.U), healthy.TrackU()))}
	case model.Adds, model.Bridges, model.Closed:
		if f.Ohm > 0 && !(f.Effect == model.Closed && u.HasDiode(f.Key)) { // a diode's drop is no resistance
			return &Estimate{ohm(f.Ohm), ohm(f.U)}
		}
	}
	return nil
}

// normalise turns logarithms of weights into weights that sum to 1, the largest first.
func normalise(causes []Cause) {
	top := math.Inf(-1)
	for _, c := range causes {
		top = max(top, c.Weight)
	}
	sum := 0.0
	for i := range causes {
		causes[i].Weight = math.Exp(causes[i].Weight - top)
		sum += causes[i].Weight
	}
	for i := range causes {
		causes[i].Weight /= sum
	}
	byWeight(causes)
}

func byWeight(causes []Cause) {
	slices.SortStableFunc(causes, func(a, b Cause) int { return cmp.Compare(b.Weight, a.Weight) })
}
