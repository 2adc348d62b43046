package answers

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"padjig/results"
	"padjig/results/lines"
)

// KeyChoice chooses keys: by label, on a line, in a group of the product file.
// All empty are all keys.
type KeyChoice struct {
	Labels      []string
	Line, Group string
}

// NoKeyError is returned where no key is on a line nor in a group.
type NoKeyError struct {
	Choice        KeyChoice
	Lines, Groups []string
}

// Error names the lines and groups there are.
func (e *NoKeyError) Error() string {
	return fmt.Sprintf("no key on line %q or in group %q: the lines are %s, the groups %s",
		e.Choice.Line, e.Choice.Group, distinct(e.Lines), distinct(e.Groups))
}

func distinct(names []string) string {
	var out []string
	for _, n := range names {
		if n != "" && !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	if len(out) == 0 {
		return "none"
	}
	return strings.Join(out, " ")
}

// In gives the labels chosen, nil for all.
func (c KeyChoice) In(pad []lines.PadKey) ([]string, error) {
	if c.Line == "" && c.Group == "" {
		return c.Labels, nil
	}
	labels, none := slices.Clone(c.Labels), &NoKeyError{Choice: c}
	for _, k := range pad {
		none.Lines, none.Groups = append(none.Lines, k.Lines...), append(none.Groups, k.Group)
		if c.Line != "" && slices.Contains(k.Lines, c.Line) || c.Group != "" && k.Group == c.Group {
			labels = append(labels, k.Label)
		}
	}
	if len(labels) == 0 {
		return nil, none
	}
	return labels, nil
}

// keyReadings is a reading of one key over the last units, oldest first.
type keyReadings struct {
	Key    string
	Limits [2]float64 // 0 for none
	Values []float64
	U      []float64 // standard uncertainties, 0: not known
	Runs   [2]int64  // numbers of the first and of the last run they are from
	Over   int       // over range, or not measured: no number
	Units  int       // that have the key, read or not
}

// Reading is a reading of the chosen keys over the last units.
type Reading struct {
	lines.Series
	Keys   []lines.PadKey // in the product's order
	Labels []string       // as they were chosen, nil for all
}

// NotOfKeysError is returned where keys are chosen and the measure is not read at keys.
type NotOfKeysError struct{ Measure lines.Measure }

// Error says what can be chosen.
func (e *NotOfKeysError) Error() string {
	return fmt.Sprintf("%s is not read at keys: no line and no group can be chosen", e.Measure)
}

// others looks readings up that are not read at keys; a label is then a pin or a step.
func (s Selection) others(ctx context.Context, store *results.Store, m lines.Measure, choice KeyChoice, last int) (r Reading, err error) {
	if choice.Line != "" || choice.Group != "" {
		return r, &NotOfKeysError{m}
	}
	r.Labels = choice.Labels
	if r.Series, err = store.Lines.Readings(ctx, s.Filter, m, r.Labels, last); err != nil {
		return r, err
	}
	for _, name := range r.Names {
		r.Keys = append(r.Keys, lines.PadKey{Label: name})
	}
	return r, nil
}

// Read looks the readings up.
func (s Selection) Read(ctx context.Context, store *results.Store, m lines.Measure, choice KeyChoice, last int) (r Reading, err error) {
	if !m.OfKeys() {
		return s.others(ctx, store, m, choice, last)
	}
	pad, err := store.Lines.Pad(ctx, s.Filter)
	if err != nil {
		return r, err
	}
	if r.Labels, err = choice.In(pad); err != nil {
		return r, err
	}
	r.Keys = slices.DeleteFunc(pad, func(k lines.PadKey) bool { return len(r.Labels) > 0 && !slices.Contains(r.Labels, k.Label) })
	r.Series, err = store.Lines.Readings(ctx, s.Filter, m, r.Labels, last)
	return r, err
}

// byKey gives the readings of each key.
func (r Reading) byKey() []keyReadings {
	at, out := map[string]int{}, []keyReadings{}
	for i, k := range r.Keys {
		at[k.Label] = i
		out = append(out, keyReadings{Key: k.Label, Limits: r.Limits[k.Label], Over: r.Open[k.Label], Units: r.Units[k.Label]})
	}
	for _, p := range r.Points {
		if i, ok := at[p.Key]; ok {
			k := &out[i]
			if len(k.Values) == 0 {
				k.Runs[0] = p.Seq
			}
			k.Values, k.U, k.Runs[1] = append(k.Values, p.Value), append(k.U, p.U), p.Seq
		}
	}
	return out
}

// Listed writes what may be chosen.
func Listed[T ~string](list []T) string {
	var out []string
	for _, one := range list {
		out = append(out, string(one))
	}
	return strings.Join(out, ", ")
}
