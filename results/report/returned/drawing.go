package returned

import (
	"math"
	"slices"
	"strings"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results/report/pad"
	"padjig/sequence"
	"padjig/sequence/wording"
)

// PadOf is the pad with what is known of each key, as shipped and today; without
// keys when the product is not known.
func PadOf(l *Life) pad.Pad {
	p := l.pad
	p.Keys = slices.Clone(p.Keys)
	for i := range p.Keys {
		d := &p.Keys[i]
		k, tip := Beside{}, "key "+d.Label
		if of := slices.IndexFunc(l.Keys, func(k Beside) bool { return k.Key == d.Label }); of >= 0 {
			k = l.Keys[of]
			tip += " (" + k.Lines[0] + "-" + k.Lines[1] + ")"
		}
		d.State, d.Then, d.Now, d.Tip = k.state(), short(k.Shipped), short(k.Today()), tip
		if in := k.Worst(); in != nil {
			d.Worst, d.Tip = in.short(), tip+": "+k.SaysWorst(wording.Words{})
		}
		if k.Change != nil && k.Change.Real() {
			d.Change = k.Change.inOhm()
		}
	}
	return p
}

// state is the worst that is known of the key.
func (k Beside) state() pad.State {
	switch {
	case k.cured():
		return pad.Was
	case k.Wrong:
		return pad.Wrong
	case k.Thin:
		return pad.Thin
	case k.Now == "":
		return pad.Unread
	case k.Change != nil && k.Change.Real() && k.Change.Value > 0:
		return pad.Rose
	case k.Change != nil && k.Change.Real():
		return pad.Fell
	}
	return pad.Same
}

// cured reports whether a stage found the key at fault and the last that read it did not.
func (k Beside) cured() bool {
	bad := func(in Reading) bool { return in.Bad }
	return slices.ContainsFunc(k.Readings, bad) && !k.Readings[len(k.Readings)-1].Bad
}

// short is the reading in a small place.
func (in Reading) short() string {
	if math.IsInf(in.ohm(), 1) {
		return "open"
	}
	return short(in.Closed)
}

// Today is the reading that counts now.
func (k Beside) Today() *fixture.Resistance {
	if k.Now == string(sequence.FirstPress) {
		return k.First
	}
	return k.Test
}

// short is a value in a small place: three digits, no uncertainty, no unit where it is ohm.
func short(r *fixture.Resistance) string {
	switch {
	case r == nil:
		return "–"
	case r.AtLeast:
		return "open"
	}
	digits := math.Pow(10, math.Floor(math.Log10(max(math.Abs(float64(r.Value)), 1e-3)))-2)
	return strings.TrimSuffix(quantity.Ohm(math.Round(float64(r.Value)/digits)*digits).String(), " ohm")
}
