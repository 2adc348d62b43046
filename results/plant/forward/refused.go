package forward

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"slices"

	"padjig/results/plant/tables"
)

// refusedWords are words of a station that the plant does not take, by their table and the station's number; nil for one that
// is refused for what it names.
type refusedWords map[string]map[int64]*wordRefused

// wordRefused is a word that is refused for itself.
type wordRefused struct {
	Difference
	said  string // what it is called
	other bool   // the plant has it, and something else beside it
	fits  bool   // and the station's is what its own hash says
}

// add refuses a word, for what stands beside it at the plant; nil where the plant does not take it at all.
func (r refusedWords) add(t tables.Table, row, beside []any) {
	if r[t.Name] == nil {
		r[t.Name] = map[int64]*wordRefused{}
	}
	width := keyWidth(t)
	w := &wordRefused{said: fmt.Sprint(row[1:width]...), other: beside != nil}
	w.Table, w.Local, w.Here = t.Name, row[0].(int64), meaningHash(row[width:], row)
	if beside != nil {
		w.There = meaningHash(beside, beside)
	}
	if at := t.Index("hash"); at >= 0 {
		w.said = fmt.Sprint(row[at])
		w.fits = w.Here == row[at]
	}
	r[t.Name][w.Local] = w
}

// meaningHash is the SHA-256 of what stands beside a word, of the whole where nothing does.
func meaningHash(beside, whole []any) string {
	if len(beside) == 1 {
		if text, is := beside[0].(string); is {
			sum := sha256.Sum256([]byte(text))
			return hex.EncodeToString(sum[:])
		}
	}
	return plainHash(encoded(whole))
}

// names gives the first refused word that a row names, nil for none; found tells whether there is one.
func (r refusedWords) names(t tables.Table, row []any) (w *wordRefused, found bool) {
	for i, c := range t.Columns {
		if local, is := row[i].(int64); is && c.Use == tables.Ref {
			if w, found = r[c.To][local]; found {
				return w, true
			}
		}
	}
	return nil, false
}

// without refuses words that name refused ones, and gives the others.
func (r refusedWords) without(t tables.Table, rows [][]any) (rest [][]any) {
	for _, row := range rows {
		w, found := r.names(t, row)
		if !found {
			rest = append(rest, row)
			continue
		}
		if r[t.Name] == nil {
			r[t.Name] = map[int64]*wordRefused{}
		}
		r[t.Name][row[0].(int64)] = w
	}
	return rest
}

// differences are those of words that the plant has.
func (r refusedWords) differences() (list []Difference) {
	for _, name := range slices.Sorted(maps.Keys(r)) {
		for _, local := range slices.Sorted(maps.Keys(r[name])) {
			if w := r[name][local]; w.other {
				list = append(list, w.Difference)
			}
		}
	}
	return list
}

// before gives how far a batch goes without the rows that name refused words, and why no further.
func (b *batch) before(r refusedWords) (upTo cursors, stop *StoppedError) {
	upTo = maps.Clone(b.to)
	for _, t := range tables.All() {
		if t.Kind == tables.Word {
			continue
		}
		of := t.Name
		if t.Kind == tables.Of {
			of = t.Parent()
		}
		for _, row := range b.rows[t.Name] {
			if w, found := r.names(t, row); found && row[0].(int64) <= upTo[of] {
				upTo[of] = row[0].(int64) - 1
				stop = w.stops(of, row[0].(int64))
			}
		}
	}
	return upTo, stop
}

// stops says why nothing goes from a row on that names the word.
func (w *wordRefused) stops(table string, local int64) *StoppedError {
	what := fmt.Sprintf("row %d of %s names %s %d, %s, ", local, table, w.Table, w.Local, w.said)
	const ours = "the station's records are not what was stored: padjig records check; docs/plant.md, When forwarding stops"
	switch {
	case !w.other:
		return &StoppedError{OtherWord, what + "which is not what it is called: the plant does not take it", ours}
	case w.fits:
		return &StoppedError{OtherWord, what + fmt.Sprintf("of which the meaning has hash %s at the station and %s at the plant, which is not its own", w.Here, w.There),
			"the plant's is wrong, and its owner puts it right: docs/plant.md, When forwarding stops"}
	}
	return &StoppedError{OtherWord, what + fmt.Sprintf("of which the meaning has hash %s at the station and %s at the plant", w.Here, w.There), ours}
}
