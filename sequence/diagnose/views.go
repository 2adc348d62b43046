package diagnose

import (
	"math"
	"slices"
)

// views are models in which something concerns the whole panel: tracks printed too thin,
// contacts printed beside their place. They are tried only where several keys are not as
// they should be.
func (m *model) views() []*model {
	if m.wrongKeys() < 3 {
		return nil
	}
	var out []*model
	if t, ok := m.thinTracks(); ok {
		out = append(out, m.under(t, fault{effect: thin, ohm: t.tracks}))
	}
	if t, ok := m.gradedContacts(); ok {
		out = append(out, m.under(t, fault{effect: graded}))
	}
	return out
}

// under is the model with another trend, which a fault of the whole panel has made.
func (m *model) under(t trend, wide fault) *model {
	n := &model{ev: m.ev, pad: m.pad, nets: m.nets, wide: &wide}
	n.settle(t)
	return n
}

func (m *model) wrongKeys() (n int) {
	for k := range m.ev.Keys {
		if m.ev.keyWrong(k) {
			n++
		}
	}
	return n
}

// thinTracks fits contact ratio and track factor together, weighing down what does not
// follow (iteratively reweighted least squares).
func (m *model) thinTracks() (trend, bool) {
	var contact, path, read []float64
	for k := range m.ev.Keys {
		if q, ok := contactRatio(m.ev, m.pad, k, 0); ok {
			c := float64(m.ev.Product.Keys[k].Contact)
			contact, path, read = append(contact, c), append(path, m.pad.path(k, nil)), append(read, q*c)
		}
	}
	if len(read) < 6 {
		return trend{}, false
	}
	t := m.trend
	ratio, tracks := m.trend.ratio, 1.0
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

// gradedContacts fits a slope of the contacts' logarithm over the panel, along whichever
// of its two directions has the surer one.
func (m *model) gradedContacts() (trend, bool) {
	var x, y, l []float64
	for k := range m.ev.Keys {
		if q, ok := contactRatio(m.ev, m.pad, k, 1); ok && q > 0 {
			key := m.ev.Product.Keys[k]
			x, y, l = append(x, centreX(key)), append(y, key.Y), append(l, math.Log(q))
		}
	}
	if len(l) < 6 || flatAxis(x) && flatAxis(y) {
		return trend{}, false
	}
	t := m.trend
	t.origin = [2]float64{median(x), median(y)}
	axis, slope, offset := surerAxis(x, y, l, t.origin)
	if slope == 0 {
		return t, false
	}
	t.tilt[axis] = slope
	t.ratio = math.Exp(offset)
	return t, true
}

func flatAxis(v []float64) bool { return slices.Max(v) == slices.Min(v) }

// surerAxis gives the direction whose slope stands out most, if it does so by six
// standard deviations.
func surerAxis(x, y, l []float64, origin [2]float64) (axis int, slope, offset float64) {
	best := 6.0
	for i, v := range [][]float64{x, y} {
		if flatAxis(v) {
			continue
		}
		o, s, u := lineThrough(v, l)
		if math.Abs(s) > best*u {
			best, axis, slope, offset = math.Abs(s)/u, i, s, o+s*origin[i]
		}
	}
	return axis, slope, offset
}
