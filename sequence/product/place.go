package product

// placeKeys puts the keys on the drawing: where they say themselves, else as the
// layout shows, else as they stand in the matrix.
func placeKeys(o object, keys drafts, rows int) {
	if f, ok := o.get("layout"); ok {
		layOut(f, keys)
	} else {
		asMatrix(keys, rows)
	}
	overlaps(o.collector, keys)
}

// layOut lays each row from left to right, a gap as wide as one key.
func layOut(f field, keys drafts) {
	drawn := make(map[*draft]bool)
	rows := rowsOf(f.words())
	if len(rows) == 0 {
		return
	}
	for y, row := range rows {
		x := 0.0
		for _, w := range row {
			d := keys.find(w.text)
			if d == nil {
				if w.text != empty {
					f.wrong(w.place, "layout.unknown", w.text, meant{w.text, keys.labels()})
				}
				x++
				continue
			}
			switch {
			case drawn[d]:
				f.wrong(w.place, "layout.twice", d.Label)
			case d.placed:
				f.wrong(w.place, "layout.placed", d.Label)
			default:
				d.X, d.Y, d.at, d.placed = x, float64(y), w.place, true
			}
			drawn[d] = true
			x += d.W
		}
	}
	for _, d := range keys {
		if !d.placed && !drawn[d] && (d.inMatrix() || d.joined.known()) {
			f.wrong(f.name.place, "layout.lacks", d.Label)
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
func overlaps(c *collector, keys drafts) {
	for i, d := range keys {
		for _, e := range keys[:i] {
			if !d.covers(e) {
				continue
			}
			at := d.at
			if len(d.fields.fields) == 0 && len(e.fields.fields) > 0 {
				at = e.at
			}
			c.wrong(at, "keys.overlap", e.Label, d.Label)
			break
		}
	}
}

func (d *draft) covers(e *draft) bool {
	const touching = 1e-6 // sums of thirds do not meet exactly
	return d.placed && e.placed && min(d.X+d.W, e.X+e.W)-max(d.X, e.X) > touching &&
		min(d.Y+d.H, e.Y+e.H)-max(d.Y, e.Y) > touching
}
