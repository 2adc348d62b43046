package product

import "padjig/sequence/fields"

// placeKeys puts the keys on the drawing: where they say themselves, else as the
// layout shows, else as they stand in the matrix.
func placeKeys(o fields.Object, keys drafts, rows int) {
	if f, ok := o.Get("layout"); ok {
		layOut(f, keys)
	} else {
		asMatrix(keys, rows)
	}
	overlaps(o.Collector, keys)
}

// layOut lays each row from left to right, a gap as wide as one key.
func layOut(f fields.Field, keys drafts) {
	drawn := make(map[*draft]bool)
	rows := rowsOf(f.Words())
	if len(rows) == 0 {
		return
	}
	for y, row := range rows {
		x := 0.0
		for _, w := range row {
			d := keys.find(w.Text)
			if d == nil {
				if w.Text != empty {
					f.Wrong(w.Place, "layout.unknown", w.Text, fields.Suggest(w.Text, keys.labels()))
				}
				x++
				continue
			}
			switch {
			case drawn[d]:
				f.Wrong(w.Place, "layout.twice", d.Label)
			case d.placed:
				f.Wrong(w.Place, "layout.placed", d.Label)
			default:
				d.X, d.Y, d.at, d.placed = x, float64(y), w.Place, true
			}
			drawn[d] = true
			x += d.W
		}
	}
	for _, d := range keys {
		if !d.placed && !drawn[d] && (d.inMatrix() || d.joined.Known()) {
			f.Wrong(f.Name.Place, "layout.lacks", d.Label)
		}
	}
}

// asMatrix puts each key on its crossing, and the others in a row beneath.
func asMatrix(keys drafts, rows int) {
	x := 0.0
	for _, d := range keys {
		switch {
		case d.placed:
			continue
		case d.inMatrix():
			d.share()
		default:
			d.X, d.Y = x, float64(rows)
			x += d.W
		}
		d.placed = true
	}
}

// share gives keys on one crossing equal parts of it, unless one has a size.
func (d *draft) share() {
	part := 1 / float64(d.slots)
	d.X, d.Y = float64(d.column)+part*float64(d.slot), float64(d.row)
	if d.W == 1 {
		d.W = part
	}
}

// overlaps reports each key that lies on one before it, once, at the one of the
// two that says itself where or how large it is.
func overlaps(c *fields.Collector, keys drafts) {
	for i, d := range keys {
		for _, e := range keys[:i] {
			if !d.covers(e) {
				continue
			}
			at := d.at
			if len(d.fields.Fields) == 0 && len(e.fields.Fields) > 0 {
				at = e.at
			}
			c.Wrong(at, "keys.overlap", e.Label, d.Label)
			break
		}
	}
}

func (d *draft) covers(e *draft) bool {
	const touching = 1e-6 // sums of thirds do not meet exactly
	return d.placed && e.placed && min(d.X+d.W, e.X+e.W)-max(d.X, e.X) > touching &&
		min(d.Y+d.H, e.Y+e.H)-max(d.Y, e.Y) > touching
}
