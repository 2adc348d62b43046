package product

import "slices"

// readTracks settles in which order each line's track reaches its keys. Unless
// the file says otherwise that is the order of the keys: along a row from left
// to right, down a column from top to bottom.
func readTracks(o object, p *Product) {
	for i, k := range p.Keys {
		for _, l := range []int{k.A, k.B} {
			if l >= 0 {
				p.Lines[l].Track = append(p.Lines[l].Track, i)
			}
		}
	}
	section, _ := o.section("tracks")
	stated := make(map[int]bool)
	for _, f := range section.fields {
		if i := p.Line(f.name.text); i >= 0 {
			stated[i] = true
			readTrack(f, p, &p.Lines[i])
		}
	}
	for _, f := range section.fields {
		axis, is := map[string][]int{"rows": p.Rows, "columns": p.Columns}[f.name.text]
		switch {
		case is:
			for _, l := range axisTracks(f, axis) {
				if !stated[l] {
					slices.Reverse(p.Lines[l].Track)
				}
			}
		case p.Line(f.name.text) < 0:
			f.wrong(f.name.place, "tracks.unknown", f.name.text,
				meant{f.name.text, append(lineNames(p.Lines), "rows", "columns")})
		}
	}
}

// axisTracks gives the lines of an axis that "rows: last to first" turns.
func axisTracks(f field, axis []int) []int {
	switch joined(f.words()) {
	case "last to first":
		return axis
	case "first to last":
	default:
		f.wrong(f.at(), "tracks.axis", f.name.text)
	}
	return nil
}

// readTrack reads the order of one line.
func readTrack(f field, p *Product, line *Line) {
	words := f.words()
	switch joined(words) {
	case "last to first":
		slices.Reverse(line.Track)
		return
	case "first to last":
		return
	}
	var order []int
	for _, w := range words {
		switch k := p.Key(w.text); {
		case k < 0:
			f.wrong(w.place, "track.unknown", line.Name, w.text, meant{w.text, keyLabels(p.Keys)})
		case !slices.Contains(line.Track, k):
			f.wrong(w.place, "track.elsewhere", line.Name, w.text)
		case slices.Contains(order, k):
			f.wrong(w.place, "track.twice", line.Name, w.text)
		default:
			order = append(order, k)
		}
	}
	for _, k := range line.Track {
		if len(words) > 0 && !slices.Contains(order, k) {
			f.wrong(f.name.place, "track.lacks", line.Name, p.Keys[k].Label)
		}
	}
	line.Track = order
}
