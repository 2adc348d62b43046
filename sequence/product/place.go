package product

import "math"

// place puts the keys on the drawing: where they say themselves, else as the
// layout shows, else as they stand in the matrix.
func (b *builder) place(o object) {
	f, ok := o.get("layout")
	if ok {
		b.layout(f)
	} else {
		b.asMatrix()
	}
	for i, d := range b.drafts {
		b.p.Keys[i].X, b.p.Keys[i].Y, b.p.Keys[i].W, b.p.Keys[i].H = d.X, d.Y, d.W, d.H
	}
	b.overlaps()
}

// layout lays each row from left to right, a gap as wide as one key.
func (b *builder) layout(f field) {
	drawn := make(map[*draft]bool)
	rows := rowsOf(b.words(f))
	if len(rows) == 0 {
		return
	}
	for y, row := range rows {
		x := 0.0
		for _, w := range row {
			d := b.draft(w.text)
			if d == nil {
				if w.text != empty {
					b.wrong(w.place, `layout: no key %q%s (a gap is "--")`, w.text, didYouMean(w.text,
						b.labels()))
				}
				x++
				continue
			}
			b.draw(d, w, drawn, x, float64(y))
			x += d.W
		}
	}
	for _, d := range b.drafts {
		if !d.placed && !drawn[d] && (d.inMatrix() || d.joined.known()) {
			b.wrong(f.name.place, `layout leaves out key %q; add it, or give it a place with "at: 5 0"`,
				d.Label)
		}
	}
}

func (b *builder) draw(d *draft, w word, drawn map[*draft]bool, x, y float64) {
	switch {
	case drawn[d]:
		b.wrong(w.place, "layout shows key %q twice; keep one of them", d.Label)
		return
	case d.placed:
		b.wrong(w.place, `key %q has a place of its own; take it out of the layout or take out its "at"`,
			d.Label)
	default:
		d.X, d.Y, d.at, d.placed = x, y, w.place, true
	}
	drawn[d] = true
}

// asMatrix puts each key on its crossing, and the others in a row beneath.
func (b *builder) asMatrix() {
	x, y := 0.0, float64(len(b.p.Rows))
	for _, d := range b.drafts {
		switch {
		case d.placed:
		case d.inMatrix():
			d.share()
		default:
			d.X, d.Y, d.placed = x, y, true
			x += d.W
		}
	}
}

// share gives keys on one crossing equal parts of it, unless one has a size.
func (d *draft) share() {
	part := 1 / float64(d.slots)
	d.X, d.Y, d.placed = float64(d.column)+part*float64(d.slot), float64(d.row), true
	if d.W == 1 {
		d.W = part
	}
}

// overlaps reports each key that lies on one before it, once, at the one of the
// two that says itself where or how large it is.
func (b *builder) overlaps() {
	for i, d := range b.drafts {
		for _, e := range b.drafts[:i] {
			if !d.covers(e) {
				continue
			}
			at := d.at
			if len(d.fields.fields) == 0 && len(e.fields.fields) > 0 {
				at = e.at
			}
			b.wrong(at, `keys %q and %q overlap on the drawing; move or resize one ("at", "size"), or `+
				`draw a layout`,
				e.Label, d.Label)
			break
		}
	}
}

func (d *draft) covers(e *draft) bool {
	const touching = 1e-6 // sums of thirds do not meet exactly
	return d.placed && e.placed && math.Min(d.X+d.W, e.X+e.W)-math.Max(d.X, e.X) > touching &&
		math.Min(d.Y+d.H, e.Y+e.H)-math.Max(d.Y, e.Y) > touching
}
