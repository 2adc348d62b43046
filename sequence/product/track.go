package product

import (
	"slices"

	"padjig/sequence/fields"
)

// readTracks settles in which order each line's track reaches its keys. Unless
// the file says otherwise that is the order of the keys: along a row from left
// to right, down a column from top to bottom.
func readTracks(o fields.Object, p *Product) {
	for i, k := range p.Keys {
		for _, l := range []int{k.A, k.B} {
			if l >= 0 {
				p.Lines[l].Track = append(p.Lines[l].Track, i)
			}
		}
	}
	section, _ := o.Section("tracks")
	stated := make(map[int]bool)
	for _, f := range section.Fields {
		if i := p.Line(f.Name.Text); i >= 0 {
			stated[i] = true
			readTrack(f, p, &p.Lines[i])
		}
	}
	for _, f := range section.Fields {
		axis, is := map[string][]int{"rows": p.Rows, "columns": p.Columns}[f.Name.Text]
		switch {
		case is:
			for _, l := range axisTracks(f, axis) {
				if !stated[l] {
					slices.Reverse(p.Lines[l].Track)
				}
			}
		case p.Line(f.Name.Text) < 0:
			f.Wrong(f.Name.Place, "tracks.unknown", f.Name.Text,
				fields.Suggest(f.Name.Text, append(lineNames(p.Lines), "rows", "columns")))
		}
	}
}

// axisTracks gives the lines of an axis that "rows: last to first" turns.
func axisTracks(f fields.Field, axis []int) []int {
	switch fields.Joined(f.Words()) {
	case "last to first":
		return axis
	case "first to last":
	default:
		f.Wrong(f.At(), "tracks.axis", f.Name.Text)
	}
	return nil
}

// readTrack reads the order of one line.
func readTrack(f fields.Field, p *Product, line *Line) {
	words := f.Words()
	switch fields.Joined(words) {
	case "last to first":
		slices.Reverse(line.Track)
		return
	case "first to last":
		return
	}
	var order []int
	for _, w := range words {
		switch k := p.Key(w.Text); {
		case k < 0:
			f.Wrong(w.Place, "track.unknown", line.Name, w.Text, fields.Suggest(w.Text, keyLabels(p.Keys)))
		case !slices.Contains(line.Track, k):
			f.Wrong(w.Place, "track.elsewhere", line.Name, w.Text)
		case slices.Contains(order, k):
			f.Wrong(w.Place, "track.twice", line.Name, w.Text)
		default:
			order = append(order, k)
		}
	}
	for _, k := range line.Track {
		if len(words) > 0 && !slices.Contains(order, k) {
			f.Wrong(f.Name.Place, "track.lacks", line.Name, p.Keys[k].Label)
		}
	}
	line.Track = order
}
