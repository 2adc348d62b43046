package diagnose

import (
	"math"

	"padjig/sequence/product"
)

// trend is what a healthy key of this unit reads: its nominal contact times a ratio that
// all contacts of the unit share, tracks as nominal. Both may be tilted for causes that
// concern the whole panel.
type trend struct {
	ratio  float64 // contacts to nominal
	spread float64 // relative standard deviation from contact to contact
	tracks float64 // tracks to nominal: 1, or more for a thin print
	tilt   [2]float64
	origin [2]float64 // of the tilt, on the drawing
}

// What is assumed of a unit before it is read, and what its few keys cannot say.
const (
	usualSpread  = 0.10 // from contact to contact (common practice, no source)
	leastSpread  = 0.06
	mostSpread   = 0.35
	trackSpread  = 0.05 // of printed tracks about their nominal
	mostRatio    = 3    // of a unit's contacts to nominal
	enoughSpread = 8    // keys whose spread is believed
)

// flatTrend estimates the trend from the keys that have a value.
func flatTrend(e *Evidence, b *pad) trend {
	t := trend{ratio: 1, spread: usualSpread, tracks: 1}
	ratios := []float64{}
	for k := range e.Keys {
		if q, ok := contactRatio(e, b, k, t.tracks); ok {
			ratios = append(ratios, q)
		}
	}
	t.ratio = commonRatio(ratios)
	t.spread = spreadAbout(ratios, t.ratio)
	return t
}

// commonRatio is the ratio that most contacts share: the one of them with which the
// others agree best, weighed against the nominal, and then the median of those near it.
// A median of all would be lost where a line fault lifts more than half of the keys.
func commonRatio(ratios []float64) float64 {
	best, top := 1.0, math.Inf(-1)
	for _, at := range append([]float64{1}, ratios...) {
		if at < 1/mostRatio || at > mostRatio {
			continue
		}
		if l := agreement(ratios, at); l > top {
			best, top = at, l
		}
	}
	near := []float64{best}
	for _, q := range ratios {
		if math.Abs(q/best-1) < 3*usualSpread {
			near = append(near, q)
		}
	}
	return median(near)
}

// agreement is the likelihood of the ratios when they lie about one of them, each with a
// least value so that faults do not count more the further off they are.
func agreement(ratios []float64, at float64) float64 {
	const least, doubt, weight = -5, 0.3, 3
	l := weight * student(math.Log(at)/doubt)
	for _, q := range ratios {
		l += max(student((q/at-1)/usualSpread), least)
	}
	return l
}

// contactRatio is a key's contact as read, to nominal.
func contactRatio(e *Evidence, b *pad, k int, tracks float64) (float64, bool) {
	key := &e.Keys[k]
	if key.State != Closed || key.Closed == nil || key.Closed.AtLeast {
		return 0, false
	}
	c := float64(e.Product.Keys[k].Contact)
	return (float64(key.Closed.Value) - tracks*b.path(k, nil) - diodeOhm(e.Product, k)) / c, true
}

// diodeOhm is what a series diode adds to a closed reading.
func diodeOhm(p *product.Product, k int) float64 {
	if p.Keys[k].Diode == product.NoDiode {
		return 0
	}
	return float64(p.Nominal.Diode.Rs)
}

func spreadAbout(ratios []float64, ratio float64) float64 {
	if len(ratios) < enoughSpread {
		return usualSpread
	}
	away := make([]float64, len(ratios))
	for i, q := range ratios {
		away[i] = math.Abs(q/ratio - 1)
	}
	return min(max(1.4826*median(away), leastSpread), mostSpread)
}

// healthy is what key k would read without a fault, and the standard deviation of that
// from unit to unit.
func (t *trend) healthy(p *product.Product, b *pad, k int) (contact, path, sd float64) {
	key := p.Keys[k]
	contact = float64(key.Contact) * t.ratio
	if t.tilt != [2]float64{} {
		contact *= math.Exp(t.tilt[0]*(centreX(key)-t.origin[0]) + t.tilt[1]*(key.Y-t.origin[1]))
	}
	path = t.tracks * b.path(k, nil)
	return contact, path + diodeOhm(p, k), math.Hypot(t.spread*contact, trackSpread*path)
}
