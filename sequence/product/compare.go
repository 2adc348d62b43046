package product

import (
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Difference is one thing in which two products are tested or drawn otherwise.
type Difference struct {
	Where    string // its path in the canonical text; keys, lines and reference units by name
	From, To string // empty where there is none
}

// Differences says in what two canonical products differ, place by place.
func Differences(from, to []byte) []Difference {
	a, b := map[string]string{}, map[string]string{}
	flatten(from, a)
	flatten(to, b)
	every := maps.Clone(a)
	maps.Copy(every, b)
	out := []Difference{}
	for _, where := range slices.Sorted(maps.Keys(every)) {
		if a[where] != b[where] {
			out = append(out, Difference{where, a[where], b[where]})
		}
	}
	return out
}

// manyDifferences is how many are said in one sentence.
const manyDifferences = 5

// SayDifferences puts differences into one sentence, limits first; what is the
// same of several keys is said once, and of many the first ones.
func SayDifferences(list []Difference) string {
	type same struct{ where, from, to string }
	var order []same
	keys := map[same][]string{}
	for _, d := range list {
		key, where := keyOf(d.Where)
		s := same{where, d.From, d.To}
		if _, seen := keys[s]; !seen {
			order = append(order, s)
		}
		keys[s] = append(keys[s], key)
	}
	slices.SortStableFunc(order, func(a, b same) int { return cmp.Compare(rank(a.where), rank(b.where)) })
	var said []string
	for i, s := range order {
		if i == manyDifferences {
			said = append(said, fmt.Sprintf("and %d more", len(order)-i))
			break
		}
		text := fmt.Sprintf("%s from %s to %s", s.where, cmp.Or(s.from, "nothing"), cmp.Or(s.to, "nothing"))
		if of := strings.Join(keys[s], " "); of != "" {
			text = "keys " + of + " " + text
		}
		said = append(said, text)
	}
	return strings.Join(said, ", ")
}

// keyOf takes the key apart from the path of one of its leaves.
func keyOf(path string) (key, rest string) {
	in, is := strings.CutPrefix(path, "keys[")
	if key, rest, found := strings.Cut(in, "]."); is && found {
		return key, rest
	}
	return "", path
}

func rank(where string) int {
	if strings.HasPrefix(where, "limits") {
		return 0
	}
	return 1
}

func flatten(raw []byte, into map[string]string) {
	var tree any
	if json.Unmarshal(raw, &tree) == nil { // canonical text always is JSON
		branch("", tree, into)
	}
}

// branch writes every leaf of a tree by its path. Parts of a list that have a
// name go by it, so that one more key does not move all others.
func branch(path string, tree any, into map[string]string) {
	switch t := tree.(type) {
	case map[string]any:
		for name, sub := range t {
			branch(strings.TrimPrefix(path+"."+name, "."), sub, into)
		}
	case []any:
		for i, sub := range t {
			branch(path+"["+nameOf(sub, i)+"]", sub, into)
		}
	case float64:
		if _, leaf := keyOf(path); leaf == "actuator" { // from 0 there, and from 1 where people see it
			path, t = path+" number", t+1
		}
		into[path] = fmt.Sprint(t)
	default:
		into[path] = fmt.Sprint(t)
	}
}

func nameOf(part any, place int) string {
	if named, ok := part.(map[string]any); ok {
		for _, field := range []string{"label", "name", "serial"} {
			if name, ok := named[field].(string); ok {
				return name
			}
		}
	}
	return fmt.Sprint(place + 1)
}
