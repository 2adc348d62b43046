package product

import "slices"

// tracks settles in which order each line's track reaches its keys. Unless
// the file says otherwise that is the order of the keys: along a row from left
// to right, down a column from top to bottom.
func (b *builder) tracks(o object) {
	for i := range b.p.Keys {
		for _, l := range []int{b.p.Keys[i].A, b.p.Keys[i].B} {
			if l >= 0 {
				b.p.Lines[l].Track = append(b.p.Lines[l].Track, i)
			}
		}
	}
	section, _ := b.section(o, "tracks")
	stated := make(map[int]bool)
	for _, f := range section.fields {
		if i := b.p.Line(f.name.text); i >= 0 {
			stated[i] = true
			b.track(i, f)
		}
	}
	for _, f := range section.fields {
		b.axisTracks(f, stated)
	}
}

// axisTracks applies "rows: last to first" to the rows without an order of their own.
func (b *builder) axisTracks(f field, stated map[int]bool) {
	axis, ok := map[string][]int{"rows": b.p.Rows, "columns": b.p.Columns}[f.name.text]
	if !ok {
		if b.p.Line(f.name.text) < 0 {
			b.wrong(f.name.place, "tracks: no line %q%s", f.name.text,
				didYouMean(f.name.text, append(b.lineNames(), "rows", "columns")))
		}
		return
	}
	backwards, ok := direction(b.words(f))
	if !ok {
		b.wrong(f.at(), `%s: write "first to last" or "last to first"; an order of labels belongs to a `+
			`single line`,
			f.name.text)
		return
	}
	for _, l := range axis {
		if backwards && !stated[l] {
			slices.Reverse(b.p.Lines[l].Track)
		}
	}
}

func direction(words []word) (backwards, ok bool) {
	text := joined(words)
	return text == "last to first", text == "last to first" || text == "first to last"
}

// track reads the order of one line.
func (b *builder) track(l int, f field) {
	line := &b.p.Lines[l]
	words := b.words(f)
	if backwards, ok := direction(words); ok {
		if backwards {
			slices.Reverse(line.Track)
		}
		return
	}
	var order []int
	for _, w := range words {
		if k, ok := b.onTrack(line, order, w); ok {
			order = append(order, k)
		}
	}
	for _, k := range line.Track {
		if len(words) > 0 && !slices.Contains(order, k) {
			b.wrong(f.name.place, "track of %s leaves out key %q; name every key on the line, from the tail",
				line.Name, b.p.Keys[k].Label)
		}
	}
	line.Track = order
}

func (b *builder) onTrack(line *Line, order []int, w word) (int, bool) {
	k := b.p.Key(w.text)
	switch {
	case k < 0:
		b.wrong(w.place, "track of %s: no key %q%s", line.Name, w.text, didYouMean(w.text, b.labels()))
	case !slices.Contains(line.Track, k):
		b.wrong(w.place, "track of %s: key %q is not on this line; take it out", line.Name, w.text)
	case slices.Contains(order, k):
		b.wrong(w.place, "track of %s reaches key %q twice; name it once, where the track comes first",
			line.Name, w.text)
	default:
		return k, true
	}
	return 0, false
}
