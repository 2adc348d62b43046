package model

import (
	"math"
	"slices"

	"padjig/sequence/diagnose/polish"
	"padjig/sequence/diagnose/readings"
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
	enoughKeys   = 6    // that a trend over the panel is seen in
)

// panel is all keys of a unit, from which the trend is taken.
type panel struct {
	unit *readings.Unit
	pad  *pad
}

// flat estimates the trend from the keys that have a value.
func (p panel) flat() trend {
	ratios := []float64{}
	for k := range p.unit.Keys {
		if q, ok := p.ratio(k, 1); ok {
			ratios = append(ratios, q)
		}
	}
	t := trend{ratio: commonRatio(ratios), tracks: 1}
	t.spread = spreadAbout(ratios, t.ratio)
	return t
}

// ratio is a key's contact as read, to nominal.
func (p panel) ratio(k int, tracks float64) (float64, bool) {
	read := p.unit.Value(k)
	if read == nil {
		return 0, false
	}
	c := float64(p.unit.Product.Keys[k].Contact)
	return (float64(read.Value) - tracks*p.pad.path(k, nil) - diodeOhm(p.unit.Product, k)) / c, true
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
	return polish.Median(near)
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
	return min(max(1.4826*polish.Median(away), leastSpread), mostSpread)
}

// Healthy is what a key would read without a fault: its contact and its path, in ohm, and
// the standard deviation of their sum from unit to unit.
type Healthy struct{ Contact, Path, sd float64 }

// TrackU is the standard uncertainty of the path.
func (h Healthy) TrackU() float64 { return trackSpread * h.Path }

// healthy is what the keys would read by a trend.
func (p panel) healthy(t trend) []Healthy {
	all := make([]Healthy, len(p.unit.Keys))
	for k := range all {
		key := p.unit.Product.Keys[k]
		contact := float64(key.Contact) * t.ratio
		if t.tilt != [2]float64{} {
			contact *= math.Exp(t.tilt[0]*(key.CentreX()-t.origin[0]) + t.tilt[1]*(key.Y-t.origin[1]))
		}
		path := t.tracks * p.pad.path(k, nil)
		all[k] = Healthy{contact, path + diodeOhm(p.unit.Product, k), math.Hypot(t.spread*contact, trackSpread*path)}
	}
	return all
}

// thin fits contact ratio and track factor together, weighing down what does not follow
// (iteratively reweighted least squares).
func (p panel) thin(t trend) (trend, bool) {
	var contact, path, read []float64
	for k := range p.unit.Keys {
		if q, ok := p.ratio(k, 0); ok {
			c := float64(p.unit.Product.Keys[k].Contact)
			contact, path, read = append(contact, c), append(path, p.pad.path(k, nil)), append(read, q*c)
		}
	}
	if len(read) < enoughKeys {
		return t, false
	}
	ratio, tracks := t.ratio, 1.0
	for range 20 {
		ratio, tracks = weightedFit(contact, path, read, ratio, tracks)
	}
	if !(tracks > 1.5) || !(ratio > 0.2) {
		return t, false
	}
	t.ratio, t.tracks = ratio, tracks
	ratios := make([]float64, len(read))
	for i := range read {
		ratios[i] = (read[i] - tracks*path[i]) / contact[i]
	}
	t.spread = spreadAbout(ratios, ratio)
	return t, true
}

// weightedFit solves read = ratio contact + tracks path, what is far from the last fit
// counting less.
func weightedFit(contact, path, read []float64, ratio, tracks float64) (float64, float64) {
	var cc, cp, pp, cr, pr float64
	for i := range read {
		scale := usualSpread*contact[i] + trackSpread*path[i]
		z := (read[i] - ratio*contact[i] - tracks*path[i]) / scale
		w := 1 / (scale * scale) / (1 + z*z/4)
		cc, cp, pp = cc+w*contact[i]*contact[i], cp+w*contact[i]*path[i], pp+w*path[i]*path[i]
		cr, pr = cr+w*contact[i]*read[i], pr+w*path[i]*read[i]
	}
	d := cc*pp - cp*cp
	if math.Abs(d) < 1e-9*cc*pp {
		return ratio, tracks
	}
	return (cr*pp - pr*cp) / d, (pr*cc - cr*cp) / d
}

// graded fits a slope of the contacts' logarithm over the panel, along whichever of its
// two directions has the surer one.
func (p panel) graded(t trend) (trend, bool) {
	var x, y, l []float64
	for k, key := range p.unit.Product.Keys {
		if q, ok := p.ratio(k, 1); ok && q > 0 {
			x, y, l = append(x, key.CentreX()), append(y, key.Y), append(l, math.Log(q))
		}
	}
	if len(l) < enoughKeys {
		return t, false
	}
	t.origin = [2]float64{polish.Median(x), polish.Median(y)}
	axis, slope, offset := surerAxis(x, y, l, t.origin)
	if slope == 0 {
		return t, false
	}
	t.tilt[axis] = slope
	t.ratio = math.Exp(offset)
	return t, true
}

// surerAxis gives the direction whose slope stands out most, if it does so by six
// standard deviations.
func surerAxis(x, y, l []float64, origin [2]float64) (axis int, slope, offset float64) {
	best := 6.0
	for i, v := range [][]float64{x, y} {
		if slices.Max(v) == slices.Min(v) {
			continue
		}
		o, s, u := polish.Line(v, l)
		if math.Abs(s) > best*u {
			best, axis, slope, offset = math.Abs(s)/u, i, s, o+s*origin[i]
		}
	}
	return axis, slope, offset
}
