package pad

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"padjig/sequence"
)

// Track is a line of the pad that something is wrong with: it is drawn along its keys.
type Track struct {
	Name   string
	Pin    int // of the tail, from 1; 0: not known
	Defect int // number of its finding
	Keys   []int
}

// mostTracks is how many lines of one finding are drawn: a tail the wrong way round
// concerns all of them, and there is nothing to be seen in that.
const mostTracks = 4

// tracksOf are the lines that findings are about, each once, with the keys on them.
func tracksOf(results []sequence.KeyResult, findings []sequence.Finding) (tracks []Track) {
	for n, f := range findings {
		if f.Key != "" || len(f.Lines) > mostTracks {
			continue
		}
		for i, name := range f.Lines {
			if slices.ContainsFunc(tracks, func(t Track) bool { return t.Name == name }) {
				continue
			}
			t := Track{Name: name, Defect: n + 1}
			if i < len(f.Pins) {
				t.Pin = f.Pins[i]
			}
			for k, r := range results {
				if slices.Contains(r.Lines[:], name) {
					t.Keys = append(t.Keys, k)
				}
			}
			if len(t.Keys) > 0 {
				tracks = append(tracks, t)
			}
		}
	}
	return tracks
}

// pin says which pin a track begins at.
func (p Pad) pin(t Track) string {
	if t.Pin == 0 {
		return ""
	}
	return strings.TrimSpace(p.Pin + " " + fmt.Sprint(t.Pin))
}

// listed are the tracks in text, beneath the pad: each with its defect, its pin and its
// keys, in lines of so many columns.
func (p Pad) listed(wide int) string {
	var out strings.Builder
	for _, t := range p.Tracks {
		line := fmt.Sprintf("%s%d %s", marks[Failed].sign, t.Defect, t.Name)
		if pin := p.pin(t); pin != "" {
			line += ", " + pin
		}
		line += ":"
		for _, k := range t.Keys {
			if columnsOf(line)+1+columnsOf(p.Keys[k].Label) > max(wide, 40) {
				out.WriteString(line + "\n")
				line = "  "
			}
			line += " " + p.Keys[k].Label
		}
		out.WriteString(line + "\n")
	}
	return out.String()
}

// drawnTrack is a track as it is drawn: in the gaps between keys, so that it covers none,
// with a stub into each of its own.
type drawnTrack struct {
	Path  string
	Lines []line
}

// Around a pad with tracks there is room for what they are called.
const (
	trackLeft = 66.0
	trackTop  = 30.0
)

// tracks draws the tracks of a pad whose keys are drawn.
func (p Pad) tracks(l look, keys []drawnKey, x0, y0 float64) (all []drawnTrack) {
	var taken []float64 // heights at the left edge where a name stands
	for i, t := range p.Tracks {
		rows := p.rowsOf(t)
		off := 0.0
		if len(p.Tracks) > 1 {
			off = l.gap / 4 * float64(1-2*(i%2))
		}
		var d drawnTrack
		if column(rows, keys) {
			first, last := keys[rows[0][0]], keys[rows[len(rows)-1][0]]
			x := first.X - l.gap/2 + off
			d.Path = fmt.Sprintf("M%s %sV%s", at(x), at(y0-4), at(last.Y+last.H/2))
			for _, row := range rows {
				k := keys[row[0]]
				d.Path += fmt.Sprintf("M%s %sH%s", at(x), at(k.Y+k.H/2), at(k.X+l.gap/2))
			}
			d.Lines = []line{{Class: "label", Anchor: "middle", X: max(x, first.X), Y: y0 - 10, Size: l.text,
				Text: strings.TrimSpace(t.Name + " " + p.pin(t))}}
			all = append(all, d)
			continue
		}
		var top, bottom float64
		for r, row := range rows {
			k, last := keys[row[0]], keys[row[len(row)-1]]
			y := k.Y + k.H + l.gap/2 + off
			if r == 0 {
				top = y
			}
			bottom = y
			d.Path += fmt.Sprintf("M%s %sH%s", at(x0-4), at(y), at(last.X+last.W/2))
			for _, n := range row {
				d.Path += fmt.Sprintf("M%s %sV%s", at(keys[n].X+keys[n].W/2), at(y), at(keys[n].Y+keys[n].H-l.gap/2))
			}
		}
		if bottom > top {
			d.Path += fmt.Sprintf("M%s %sV%s", at(x0-4), at(top), at(bottom))
		}
		y := top
		for slices.ContainsFunc(taken, func(at float64) bool { return math.Abs(at-y) < 2.2*l.text }) {
			y += 2.2 * l.text
		}
		taken = append(taken, y)
		for j, text := range []string{t.Name, p.pin(t)} {
			at := line{Class: "label", Anchor: "end", X: x0 - 8, Y: y + (float64(j)-0.1)*l.text*1.05, Size: l.text, Text: text}
			if float64(columnsOf(text))*l.text*0.7 > x0-10 {
				at.Long = x0 - 12
			}
			d.Lines = append(d.Lines, at)
		}
		all = append(all, d)
	}
	return all
}

// rowsOf are the keys of a track row by row, from the left.
func (p Pad) rowsOf(t Track) (rows [][]int) {
	keys := slices.SortedStableFunc(slices.Values(t.Keys), func(a, b int) int {
		x, y := p.Keys[a], p.Keys[b]
		return cmp.Or(cmp.Compare(math.Round(x.Y+x.H/2), math.Round(y.Y+y.H/2)), cmp.Compare(x.X, y.X))
	})
	for _, k := range keys {
		if n := len(rows); n > 0 && math.Round(p.Keys[k].Y+p.Keys[k].H/2) == math.Round(p.Keys[rows[n-1][0]].Y+p.Keys[rows[n-1][0]].H/2) {
			rows[n-1] = append(rows[n-1], k)
			continue
		}
		rows = append(rows, []int{k})
	}
	return rows
}

// column reports whether keys stand one below another.
func column(rows [][]int, keys []drawnKey) bool {
	return len(rows) > 1 && !slices.ContainsFunc(rows, func(row []int) bool {
		return len(row) > 1 || keys[row[0]].X != keys[rows[0][0]].X
	})
}
